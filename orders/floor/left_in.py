"""Tenderloins that stay in a carcass when it is hung: why, and until when. Pure words and dates."""

from __future__ import annotations

from datetime import date, timedelta

# Common practice, no source: inside an open carcass they begin to dry within a day, and left about four days they are
# dry and lost. So they are pulled on the third day at the latest.
PULL_WITHIN = timedelta(days=3)
DRYING = "Left in the carcass they begin to dry within a day; after about four days they are lost."
LATER = "later"
LEFT_IN = {
    LATER: "to be pulled later",
    "block": "they come out at the block",
    "hunter": "the hunter wants them left in",
}


def pull_by(hung_on: date) -> date:
    """The last day on which the tenderloins of a carcass hung on `hung_on` are pulled."""
    return hung_on + PULL_WITHIN


def day_words(day: date) -> str:
    """A day as it is said on the floor: `Sat, Nov 28`."""
    return f"{day:%a}, {day:%b} {day.day}"


def sides_words(sides: list[str]) -> str:
    """Which tenderloin, in words: `left tenderloin`, `left and right tenderloins`."""
    return f"{' and '.join(sides)} tenderloin{'s' if len(sides) > 1 else ''}"


def left_in_words(sides: list[str], why: str, hung_on: date) -> str:
    """What hanging says of tenderloins that stay in, and until when or why."""
    reason = f"pull by {day_words(pull_by(hung_on))}" if why == LATER else LEFT_IN[why]
    return f"Left in: {sides_words(sides)}; {reason}."
