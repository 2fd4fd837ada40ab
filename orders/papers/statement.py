"""The yield statement: what came in, what went off, what was packed, and what animals like this one give.

It hides nothing and blames nobody: a weight that was not taken is “not weighed”, and what is left between two weighings
is said to be just that.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from orders.intake.models import Animal
from orders.ledger.models import Event, Outcome
from orders.papers.common import (
    day,
    hunter_of,
    order_values,
    owner_of,
    shop_values,
    species_of,
    tag_of,
    weight_text,
)
from orders.papers.packed import Cut, Packed, packed_of
from orders.papers.pounds import NOT_WEIGHED, Account, Row, row
from orders.papers.rounding import Printed
from orders.yields.causes import causes_of
from orders.yields.queries import Yield
from orders.yields.spans import Status
from orders.yields.words import HOLDS, LEARNED_SOURCE

SOURCE = "The range comes from published figures; ask to see each step and its source."
OWN_SOURCE = (
    "The range comes from published figures and this shop’s own animals; ask to see each step and its source."
)
SPOILED_RULE = "What may be done with spoiled meat: local rules and licensed practice decide."
BONE_IN = "Some cuts were packed with their bone: the range is of boneless meat, and is no measure for them."
NOMINAL = "Nominal: the stated size of the pack, not a reading of the scale."


def yield_statement(found: Yield) -> dict[str, Any]:
    """All that the paper says. What was not weighed is said, and never worked out in silence."""
    animals, order, expected = found.animals, found.order, found.estimate
    printed = Printed.as_on_labels()
    packed = packed_of(found, printed)
    own = found.own_mg
    can_compare = own is not None and not any(cut.bone_in and not cut.apart for cut in packed.cuts)
    return {
        **order_values(order),
        **shop_values(),
        "hunter": owner_of(animals[0]) if not found.together else hunter_of(order),
        "animal": "; ".join(f"{animal.n}  {species_of(animal)}" for animal in animals),
        "tag": ", ".join(tag_of(animal) for animal in animals),
        "ended": "; ".join(_ended(animal) for animal in animals if animal.ended),
        "went": [*Account(found, packed, printed).rows(), *_own_rows(found, packed, printed)],
        "points_weighed": _points_words(found),
        "like_this": "What animals like these give" if found.together else "What animals like this one give",
        "expected_low": weight_text(expected.low_mg) if expected else "cannot be said",
        "expected_likely": weight_text(expected.likely_mg) if expected else "cannot be said",
        "expected_high": weight_text(expected.high_mg) if expected else "cannot be said",
        "expected_mg": [expected.low_mg, expected.likely_mg, expected.high_mg] if expected else [],
        "packed": _own_text(found, packed, printed),
        "packed_mg": own if can_compare else None,
        "covers": _covers(found),
        "cuts_title": "Packed" if found.finished else "Packed so far",
        "cuts": [_cut_row(cut, found, printed) for cut in packed.cuts],
        "sums": _whose(found, packed, printed),
        "caution": " ".join(dict.fromkeys(animal.species.caution for animal in animals)).strip(),
        "notes": _notes(found, packed, printed, can_compare=can_compare),
    }


def _ended(animal: Animal) -> str:
    """How an animal ended early, when, and the reason that was given."""
    event = Event.objects.filter(animal=animal, verb="end_animal", outcome=Outcome.OK).last()
    if event is None:
        return f"{animal.label} {animal.ended}"
    return f"{animal.label} {animal.ended}, {day(event.at)}: {event.data['payload']['reason']}"


def _points_words(found: Yield) -> str:
    weighed = found.points_counted[0]
    said = f"{found.points_weighed}."
    if weighed < 2:
        return f"{said} Nothing can be compared: that takes two weighings."
    if all(span.status is Status.CLOSED for span in found.spans):
        return said
    return f"{said} What was not weighed apart is given together: nobody can say how it divides."


def _own_rows(found: Yield, packed: Packed, printed: Printed) -> list[Row]:
    """From all that was packed to the hunter's own meat."""
    if not found.finished:
        ended = all(animal.ended for animal in found.animals)
        return [row("Packed", "nothing" if ended else "not packed yet", point=True)]
    rows = []
    for taken, value in packed.added:
        text = NOT_WEIGHED if value is None else printed.off(value)
        rows.append(row(f"Less {taken.name}", text, "added, not your own meat"))
    if packed.apart:
        rows.append(row("Less organs and bones", printed.off(packed.apart), "yours, but not boneless meat"))
    return [*rows, row("Your own meat", _own_text(found, packed, printed), _own_remark(found), point=True)]


def _own_text(found: Yield, packed: Packed, printed: Printed) -> str:
    if not found.finished:
        return "nothing" if all(animal.ended for animal in found.animals) else "not packed yet"
    return NOT_WEIGHED if packed.own is None else printed.text(packed.own)


def _own_remark(found: Yield) -> str:
    if found.own_mg is not None:
        return ""
    if found.account.packed_mg is None:
        return "not every pack was weighed"
    return "what was added was not weighed"


# --- packed ----------------------------------------------------------------------------------------------------


def _cut_row(cut: Cut, found: Yield, printed: Printed) -> dict[str, str]:
    name = cut.name
    if cut.pieces and any(pack.count for pack in cut.packs):
        name = f"{name}, {cut.pieces} pieces"
    if found.together:
        name += f" ({cut.animal_n or 'pooled'})"
    return {"what": name, "packs": str(len(cut.packs)), "weight": _cut_weight(cut, printed)}


def _cut_weight(cut: Cut, printed: Printed) -> str:
    weighed = len(cut.packs) - cut.unweighed
    if not weighed:
        return NOT_WEIGHED
    text = printed.text(cut.printed)
    nominal = len(cut.nominal)
    said = []
    if nominal:
        said.append("nominal" if nominal == weighed else f"{nominal} nominal")
    if cut.unweighed:
        said.append(f"{cut.unweighed} not weighed")
    return ", ".join([text, *said])


def _whose(found: Yield, packed: Packed, printed: Printed) -> list[str]:
    """Whose meat it is: each animal's alone, and what was put together with the others of the order."""
    if not packed.cuts:
        return []
    if not found.together:
        return [_sum_words("Of this animal alone, nothing pooled", packed.cuts, packed, printed)]
    said = []
    for animal in found.animals:
        cuts = [cut for cut in packed.cuts if cut.animal_n == animal.n]
        if cuts:
            said.append(_sum_words(f"Of animal {animal.n} alone", cuts, packed, printed))
    pooled = [cut for cut in packed.cuts if cut.animal_n is None]
    if pooled:
        words = "Pooled, of this order’s animals and nobody else’s"
        said.append(_sum_words(words, pooled, packed, printed))
    return said


def _sum_words(what: str, cuts: Sequence[Cut], packed: Packed, printed: Printed) -> str:
    many = sum(len(cut.packs) for cut in cuts)
    unweighed = sum(cut.unweighed for cut in cuts)
    packs = f"{what}: {many} pack{'' if many == 1 else 's'}"
    if unweighed == many:
        return f"{packs}, {NOT_WEIGHED}."
    weight = printed.text(packed.weight_of(cuts))
    if any(pack.has_added_fat for cut in cuts for pack in cut.packs):
        weight += " with the fat in it"
    return f"{packs}, {weight}{f'; {unweighed} of them not weighed' if unweighed else ''}."


# --- the range, and what is to be known ------------------------------------------------------------------------


def _covers(found: Yield) -> str:
    expected = found.estimate
    if expected is None:
        return "Nothing was weighed that a range could start from, or nothing is published of such an animal."
    said = [part for part in dict.fromkeys(expected.coverage.split("; ")) if part != HOLDS]
    weighed = f"worked from {weight_text(expected.weighed_mg)}, {expected.weighed_words}"
    return f"{HOLDS}: {'; '.join(said)}; {weighed}."


def _notes(found: Yield, packed: Packed, printed: Printed, *, can_compare: bool) -> list[str]:
    notes = list(found.estimate.notes) if found.estimate else []
    if found.own_mg is not None and not can_compare:
        notes.append(
            "Some cuts were packed with their bone: the range is of boneless meat, and is no measure for them."
        )
    nominal = [pack.weighing.mg for cut in packed.cuts for pack in cut.nominal if pack.weighing]
    if nominal:
        notes.append(f"{NOMINAL} {printed.text(printed.of(sum(nominal)))} of the packs is nominal.")
    notes += [f"{said}." for said in found.account.said]
    causes = causes_of(found.animals)
    told = [animal for animal in found.animals if animal.pk in causes and not animal.ended]
    notes += [f"{animal.label}: {causes[animal.pk]}." for animal in told]
    if any("spoiled" in cause for cause in causes.values()):
        notes.append(SPOILED_RULE)
    if found.estimate:
        learned = any(step.source == LEARNED_SOURCE for step in found.estimate.steps)
        notes.append(OWN_SOURCE if learned else SOURCE)
    return list(dict.fromkeys(notes))
