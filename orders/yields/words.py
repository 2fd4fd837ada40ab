"""What a range of expected meat is said to cover, and what the person is told beside it."""

from __future__ import annotations

from collections.abc import Iterable

from orders.yields.constants import BASIS_WORDS, COVERAGE, FAMILY, Basis, Share
from orders.yields.shot import Hit

HOLDS = f"{round(100 * COVERAGE)} % of animals like it lie between low and high"
LEARNED = "as this shop's own animals turn out"
LEARNED_SOURCE = "this shop's finished animals, with the published figures as the start"
BY_REGION = "by region: common practice, for only the rank is published [Y190]"
OWN_REGION = "by region: the shop's own"
BASIS_UNKNOWN = (
    "Nobody said what was on the scale: the range runs from not dressed to field-dressed with the feet off, and the "
    "likely weight is that of field-dressed, feet on."
)


def coverage(basis: Basis, tenderloins_in: int, tenderloins_said: bool, bagged_mg: int) -> str:
    """What the range is of, tenderloins inside or not, and how many animals it is meant to hold."""
    if basis is Basis.QUARTERS:
        return f"boneless meat of the bone-in pieces weighed, no organs, no added fat; {HOLDS}"
    if basis is Basis.BONELESS:
        return f"the boneless meat weighed, after cleaning up, no added fat; {HOLDS}"
    inside = {
        0: "without tenderloins, which were not in this weight",
        1: "with the one tenderloin that was in this weight",
        2: "with both tenderloins, which were in this weight"
        if tenderloins_said
        else "with the tenderloins, if they were in this weight",
    }[tenderloins_in]
    if bagged_mg:
        inside = f"{inside}, the bagged ones added as weighed"
    return f"boneless meat of the animal {inside}, no organs, no added fat; {HOLDS}"


def notes(
    basis: Basis, hit: Hit, tenderloins_in: int, tenderloins_said: bool, bagged_mg: int
) -> tuple[str, ...]:
    """What was taken for granted, in sentences; the first says on which basis the weight was taken."""
    found = [f"Worked from the weight: {BASIS_WORDS[basis]}."]
    if basis is Basis.LIVE:
        found.append("Gut fill varies: from a live weight the range is wide. Weigh it hanging.")
    if basis is not Basis.BONELESS:
        found += _bloodshot(hit)
        if not hit.regions and not hit.weighed:
            found.append("Nobody noted where it was hit: the average of all shots is taken.")
    if basis not in (Basis.QUARTERS, Basis.BONELESS):
        if tenderloins_in < 2 and not bagged_mg:
            found.append("Tenderloins that were not in the weighed animal are not in this range.")
        if tenderloins_in == 2 and not tenderloins_said:
            found.append("Nobody said whether the tenderloins were in: they are taken to be.")
    return tuple(found)


def _bloodshot(hit: Hit) -> list[str]:
    if not hit.known:
        return ["The bloodshot was not weighed: the average loss of the hit is taken."]
    if not hit.off_before:
        return []
    if hit.off_mg is None:
        return [
            "Bloodshot was off before this weight and not weighed: the usual loss of such a hit is taken."
        ]
    return ["Bloodshot was off before this weight, and was weighed."]


def lent(species: str, used: Iterable[tuple[str, Share]]) -> tuple[str, ...]:
    """Which of the shares used were not published for this species, and whose are taken instead."""
    shares = list(used)
    by_lender: dict[str, list[str]] = {}
    for what, share in shares:
        if share.lent_by and not share.own:
            by_lender.setdefault(share.lent_by, []).append(what)
    name = species or "this species"
    found = []
    for lender, lacking in by_lender.items():
        every = lender == FAMILY and len(lacking) == len(shares)
        what = "figure" if every else _either(list(dict.fromkeys(lacking)))
        whose = f"{FAMILY}'s range" if lender == FAMILY else f"that of {lender}"
        found.append(f"No published {what} for {name}: {whose}, widened.")
    return tuple(found)


def _either(names: list[str]) -> str:
    return " or ".join([", ".join(names[:-1]), names[-1]] if names[1:] else names)
