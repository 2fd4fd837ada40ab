"""The audit of one animal: from plain facts to where it stands and what to look at; `flags` tells the rules."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scipy.special import stdtr, stdtrit

from orders.yields.flags import (
    AT_BLOCK,
    HANGING,
    LUGS,
    PACKED,
    WORTH_SAYING_MG,
    AnimalFacts,
    Audit,
    Flag,
    GapFacts,
    Kind,
    LugFacts,
    Range,
    ScaleFacts,
    Standing,
    rank,
)
from orders.yields.learning import COVERAGE
from orders.yields.phrases import amount, days, gap_reason, hit_words, joined, range_words


@dataclass(frozen=True, slots=True)
class _Found:
    """A flag, and by how much its cause makes the packed weight look short (below zero: look much)."""

    flag: Flag
    short_mg: int = 0


def percentile(own_mg: int, expected: Range, df: float = math.inf) -> float | None:
    """Of 100 animals like this one, how many give less: low is the 5th, likely the 50th, high the 95th percentile.

    Between and beyond, Student t with `df` degrees of freedom (normal without) on logarithms, each side with its own
    width. None for a range that starts at zero, which has no width on logarithms. ValueError for a negative weight.
    """
    if own_mg < 0:
        raise ValueError("A weight cannot be negative.")
    if expected.low_mg == 0:
        return None
    if own_mg == expected.likely_mg:
        return 50.0
    bound = expected.low_mg if own_mg < expected.likely_mg else expected.high_mg
    width = abs(math.log(bound / expected.likely_mg))
    if own_mg == 0 or width == 0:
        return 0.0 if own_mg < expected.likely_mg else 100.0
    widths = math.log(own_mg / expected.likely_mg) / width
    return 100 * float(stdtr(df, widths * stdtrit(df, (1 + COVERAGE) / 2)))


def audit(facts: AnimalFacts) -> Audit:
    """Reason from the facts of one animal to its standing and its flags."""
    standing = _standing(facts)
    found = [*_scales(facts), *_gaps_and_lugs(facts), *_sent_to_trim(facts)]
    if standing is Standing.BELOW:
        found += _short(facts, found)
    else:
        found += [_Found(_lug_flag(lug, 0, facts.unit)) for lug in _lugs_of_unknown_weight(facts)]
    if standing is Standing.ABOVE:
        found += _over(facts, found)
    if standing in (Standing.BELOW, Standing.EXPLAINED):
        found += _known_losses(facts)
    flags = rank(each.flag for each in found)
    return Audit(standing, _sentence(facts, standing), flags)


def _standing(facts: AnimalFacts) -> Standing:
    if facts.own_mg is None or facts.expected is None:
        return Standing.UNKNOWN
    if facts.own_mg < facts.expected.low_mg:
        return Standing.BELOW
    if facts.own_mg > facts.expected.high_mg:
        return Standing.ABOVE
    if facts.ordinary and facts.own_mg < facts.ordinary.low_mg and max(_costs(facts)) >= WORTH_SAYING_MG:
        return Standing.EXPLAINED
    return Standing.WITHIN


def _scales(facts: AnimalFacts) -> Iterator[_Found]:
    for scale in facts.scales:
        total = scale.total_mg
        if total == 0:
            continue
        reads = f"reads {amount(abs(scale.error_mg), facts.unit)} too {'heavy' if total > 0 else 'light'}"
        times = f", {scale.readings} times over" if scale.readings > 1 else ""
        reason = f"{scale.name} {reads} by its last check{times}: {amount(abs(total), facts.unit)} in all."
        look = f"Check {scale.name} with the test weight, and weigh a few of this animal's packs again."
        yield _Found(Flag(Kind.SCALE, abs(total), reason, look), _scale_short(facts, scale))


def _scale_short(facts: AnimalFacts, scale: ScaleFacts) -> int:
    """How much a scale's error makes the yield look short: packs read light, or a carcass read heavy."""
    if scale.point == PACKED:
        return -scale.total_mg
    if scale.point == facts.basis_point and facts.expected is not None and facts.weighed_mg:
        return scale.total_mg * facts.expected.likely_mg // facts.weighed_mg
    return 0


def _gaps_and_lugs(facts: AnimalFacts) -> Iterator[_Found]:
    """Gaps, less what a scale's error or a missing lug makes of them; and the missing lugs with a known weight."""
    lugs = facts.lugs
    for gap in facts.gaps:
        missing, besides = gap.missing_mg, []
        for scale in facts.scales:
            if wrong := _gap_wrong(gap, scale):
                missing -= wrong
                besides.append(scale.name)
        if gap.start == LUGS:
            in_gap = list(_lugs_in_gap(lugs, gap, missing, facts.unit))
            lugs = ()
            missing -= sum(each.flag.pounds_mg for each in in_gap)
            besides += ["what is missing in lugs"] if any(each.flag.pounds_mg for each in in_gap) else []
            yield from in_gap
        yield from _gap(gap, missing, besides, facts.unit)
    for lug in lugs:
        if lug.mg is not None:
            yield _Found(_lug_flag(lug, lug.mg, facts.unit), lug.mg)


def _gap_wrong(gap: GapFacts, scale: ScaleFacts) -> int:
    """What a scale's known error adds to the difference of a gap."""
    if scale.point == gap.start:
        return scale.total_mg
    return -scale.total_mg if scale.point == gap.end else 0


def _gap(gap: GapFacts, missing_mg: int, besides: Sequence[str], unit: str) -> Iterator[_Found]:
    """A flag where the difference is beyond the scales and, on the losing side, the work's own loss."""
    lost = missing_mg - gap.scales_mg - gap.loss_mg
    gained = -missing_mg - gap.scales_mg
    if lost <= 0 and gained <= 0:
        return
    reason, look = gap_reason(gap, missing_mg, besides, unit)
    dried = lost > 0 and (gap.start, gap.end) == (HANGING, AT_BLOCK)
    flag = Flag(Kind.DRIED if dried else Kind.GAP, max(lost, gained), reason, look)
    yield _Found(flag, lost if lost > 0 else -gained)


def _lugs_in_gap(lugs: Sequence[LugFacts], gap: GapFacts, missing_mg: int, unit: str) -> Iterator[_Found]:
    """Missing lugs where the pounds before and after were weighed: no more is missing than these pounds say."""
    left = missing_mg - gap.loss_mg if missing_mg > gap.scales_mg + gap.loss_mg else 0
    for lug in lugs:
        lost = left if lug.mg is None else min(lug.mg, left)
        left -= lost
        if lost:
            yield _Found(_lug_flag(lug, lost, unit), lost)
        else:
            reason = f"{lug.name} was not scanned after the block, but the pounds after it add up without it missing."
            look = "Nothing is missing: it went on without a scan."
            yield _Found(Flag(Kind.LUG, 0, reason, look, explained=True))


def _lugs_of_unknown_weight(facts: AnimalFacts) -> list[LugFacts]:
    """Missing lugs that nobody weighed, where no weighed points tell what they held."""
    if any(gap.start == LUGS for gap in facts.gaps):
        return []
    return [lug for lug in facts.lugs if lug.mg is None]


def _lug_flag(lug: LugFacts, pounds_mg: int, unit: str) -> Flag:
    held = "was not weighed" if lug.mg is None else f"held {amount(lug.mg, unit)}"
    fits = f"; {amount(pounds_mg, unit)} is missing" if pounds_mg and lug.mg != pounds_mg else ""
    reason = f"{lug.name} {held} and was not scanned after the block{fits}."
    where = f" It was last at {lug.last_place}." if lug.last_place else ""
    look = f"Look for its tag in the cooler, on the grind rack and at the wrap table.{where}"
    return Flag(Kind.LUG, pounds_mg, reason, look)


def _sent_to_trim(facts: AnimalFacts) -> Iterator[_Found]:
    """Whole cuts that became grind trim though the hunter asked for them whole: not lost, but not as ordered."""
    if facts.to_trim_mg >= WORTH_SAYING_MG and not facts.to_trim_asked:
        sent = amount(facts.to_trim_mg, facts.unit)
        reason = f"{sent} of whole cuts went to grind trim, and the cut sheet asked for them whole. It is in the grind."
        look = "Look at the note of the wrap table for why, and tell the hunter before pickup."
        yield _Found(Flag(Kind.TRIM, facts.to_trim_mg, reason, look))


def _short(facts: AnimalFacts, known: Sequence[_Found]) -> Iterator[_Found]:
    """What is left of a short yield once everything known is taken out, laid to its likely causes in turn."""
    assert facts.own_mg is not None
    assert facts.expected is not None
    left = facts.expected.low_mg - facts.own_mg - sum(each.short_mg for each in known)
    unweighed = _lugs_of_unknown_weight(facts)
    for lug in unweighed:
        share = max(left, 0) // len(unweighed)
        yield _Found(_lug_flag(lug, share, facts.unit), share)
    if unweighed:
        return
    for cause in (_unnoted_shot, _trimmed, _nothing_known):
        if left > 0 and (flag := cause(facts, left)):
            left -= flag.pounds_mg
            yield _Found(flag, flag.pounds_mg)


def _unnoted_shot(facts: AnimalFacts, left_mg: int) -> Flag | None:
    """Nobody noted where it was hit, nor weighed the bloodshot: a bad hit may be the reason."""
    if facts.shot_regions or facts.bloodshot_known or facts.worst_shot_mg <= 0:
        return None
    worst = amount(facts.worst_shot_mg, facts.unit)
    reason = (
        "Nobody noted where it was hit, and the bloodshot was not weighed: "
        f"a shoulder hit takes up to {worst} more than the average one."
    )
    look = "Ask the hunter where it was hit, and note it at the next drop-off."
    return Flag(Kind.SHOT, min(left_mg, facts.worst_shot_mg), reason, look)


def _trimmed(facts: AnimalFacts, left_mg: int) -> Flag | None:
    """More bone, fat and sinew than animals like this leave; or none of it weighed, which leaves trimming as likely."""
    left, unit = amount(left_mg, facts.unit), facts.unit
    if facts.waste_mg is None or facts.usual_waste_mg is None:
        reason = (
            f"Bone, fat and sinew were not weighed, and no other weight explains {left}: closer trimming may."
        )
        look = "Weigh the bone, fat and sinew of the next animals, and look for lean left on the bone."
        return Flag(Kind.TRIM, left_mg, reason, look)
    more = facts.waste_mg - facts.usual_waste_mg
    if more <= 0:
        return None
    reason = (
        f"Bone, fat and sinew came to {amount(facts.waste_mg, unit)}, {amount(more, unit)} more than animals "
        "like this leave: it was trimmed closer, or had more fat and bone."
    )
    look = "Look for lean left on the bone of the next animals, and compare with the shop's trim standard."
    return Flag(Kind.TRIM, min(left_mg, more), reason, look)


def _nothing_known(facts: AnimalFacts, left_mg: int) -> Flag:
    left = amount(left_mg, facts.unit)
    reason = f"Nothing that was weighed or noted explains {left} under the range."
    look = "Look at the first weight as it was typed, and at the animal's notes: a thin or old one has more bone."
    return Flag(Kind.BELOW, left_mg, reason, look)


def _over(facts: AnimalFacts, known: Sequence[_Found]) -> Iterator[_Found]:
    """What is left of a yield above its range once gains that are known are taken out."""
    assert facts.own_mg is not None
    assert facts.expected is not None
    left = facts.own_mg - facts.expected.high_mg + sum(min(each.short_mg, 0) for each in known)
    if left > 0:
        reason = f"It packed {amount(left, facts.unit)} more than the range explains."
        look = (
            "Look for another order's meat among its packs, for fat that was added without a weight, "
            "and at the first weight as it was typed."
        )
        yield _Found(Flag(Kind.ABOVE, left, reason, look))


def _known_losses(facts: AnimalFacts) -> Iterator[_Found]:
    """Shot and drying that are noted, and so lie in the animal's range: what they cost beyond the ordinary."""
    look = "Nothing to look for: its range allows for it."
    for kind, cost in zip((Kind.SHOT, Kind.DRIED), _costs(facts), strict=True):
        if cost >= WORTH_SAYING_MG:
            reason = _shot_reason(facts, cost) if kind is Kind.SHOT else _dried_reason(facts, cost)
            yield _Found(Flag(kind, cost, reason, look, explained=True))


def _costs(facts: AnimalFacts) -> tuple[int, int]:
    """What this animal's hit, and its days of hanging, take beyond an ordinary animal's. They add up to both."""
    if facts.expected is None or facts.ordinary is None or facts.likely_as_hung_mg is None:
        return 0, 0
    return (
        facts.likely_as_hung_mg - facts.expected.likely_mg,
        facts.ordinary.likely_mg - facts.likely_as_hung_mg,
    )


def _shot_reason(facts: AnimalFacts, cost_mg: int) -> str:
    hit = f"Hit in {hit_words(facts.shot_regions)}" if facts.shot_regions else "The bloodshot was weighed"
    return f"{hit}: {amount(cost_mg, facts.unit)} more than an average hit takes."


def _dried_reason(facts: AnimalFacts, cost_mg: int) -> str:
    more = facts.hung_days - facts.usual_days
    longer = f", {days(more)} longer than usual" if more > 0 else ""
    return f"Hung {days(facts.hung_days)}{longer}: {amount(cost_mg, facts.unit)} more dried away."


def _sentence(facts: AnimalFacts, standing: Standing) -> str:
    if facts.own_mg is None:
        return "Not everything that was packed was weighed: its yield is not known."
    packed = f"Packed {amount(facts.own_mg, facts.unit)}"
    if facts.expected is None:
        return f"{packed}. There is nothing to compare it with: no range could be reckoned."
    of_range = f"the range is {range_words(facts.expected, facts.unit)}"
    if standing is Standing.EXPLAINED:
        assert facts.ordinary is not None
        short = amount(facts.ordinary.likely_mg - facts.own_mg, facts.unit)
        shot, dried = (cost >= WORTH_SAYING_MG for cost in _costs(facts))
        causes = joined([*(["the shot"] if shot else []), *(["the long hanging"] if dried else [])])
        explained = f"{causes} explain{'' if shot and dried else 's'} it"
        return f"{packed}: {short} less than an ordinary animal of its weight, and {explained}; {of_range}."
    return (
        f"{packed}: {standing.value}; {of_range}."
        if standing is not Standing.WITHIN
        else f"{packed}; {of_range}."
    )
