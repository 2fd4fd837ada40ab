"""What a yield record keeps for the flags and the reports, so that nobody has to read the ledger again for them.

All of it is by the published figures; what the shop has learned moves the ranges later (`ranges`).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from django.db.models import Count, Max, Min, Q
from django.utils import timezone

from orders.cutsheets.models import CutLine
from orders.intake.models import Animal, ArrivedAs
from orders.ledger.models import Contents, Direction, PieceKind, PieceState, RunKind
from orders.ledger.models import Point as Weighed
from orders.ledger.weights import standing, standing_lines
from orders.yields.account import Part
from orders.yields.constants import Basis
from orders.yields.estimate import Estimate, estimate
from orders.yields.figures import Figures
from orders.yields.flags import AT_BLOCK, HANGING, LUGS, PACKED, Range
from orders.yields.learned import class_of
from orders.yields.phrases import TO_WRAP
from orders.yields.queries import Gap, Yield
from orders.yields.ranges import Chain, State
from orders.yields.rows import Facts, LineSum, all_weighed
from orders.yields.spans import FlowKind

# Trimmings of steaks and roasts go to the grinder: of the whole cuts on the table, up to this share. Common practice,
# no source.
TRIMMINGS_BP = 2000
WHOLE_BP = 10_000
BLOODSHOT = "bloodshot"
BONED = "bone, fat and silverskin off"
# What a factor of nothing at all comes to, as a logarithm that a database can keep.
FARTHEST = 50.0
POINT_KEYS = {
    Weighed.RECEIVED: "received",
    Weighed.HANGING: HANGING,
    Weighed.AT_BLOCK: AT_BLOCK,
    Weighed.PACK: PACKED,
}


# An animal, or an order for what was put together.
Owner = tuple[int | None, int | None]


@dataclass(slots=True)
class Besides:
    """What is read for the records besides the yields, by animal or by order: lugs, cut sheets and scales.

    `lugs`: made and used nowhere. `wanted`: parts that the cut sheet wants whole. `readings`: point, station, how many,
    from when to when.
    """

    lugs: dict[Owner, list[dict[str, Any]]] = field(default_factory=dict)
    wanted: dict[int, set[str]] = field(default_factory=dict)
    readings: dict[Owner, list[list[Any]]] = field(default_factory=dict)

    def of(self, kept: Mapping[Owner, list[Any]], found: Yield) -> list[Any]:
        """What was kept for these animals, and for their order where they were put together."""
        keys = [(animal.pk, None) for animal in found.animals]
        owners = [*keys, (None, found.order.pk)] if found.pooled else keys
        return [each for owner in owners for each in kept.get(owner, ())]


def read_besides(animals: Sequence[Animal]) -> Besides:
    """Lugs that went nowhere, cut sheets and readings of these animals and their orders, in three queries."""
    keys, orders = [animal.pk for animal in animals], list({animal.order_id for animal in animals})
    return Besides(_lugs(keys, orders), _wanted(keys), _readings(keys, orders))


def _lugs(keys: list[int], orders: list[int]) -> dict[Owner, list[dict[str, Any]]]:
    left = standing_lines().filter(
        Q(piece__animal__in=keys) | Q(piece__order__in=orders),
        direction=Direction.OUT,
        piece__kind=PieceKind.LUG,
        piece__state__in=(PieceState.WAITING, PieceState.TABLE),
    )
    rows = left.order_by("id").values_list(
        "piece__animal_id", "piece__order_id", "piece__name", "weighing__mg", "piece__place__name"
    )
    found: dict[Owner, list[dict[str, Any]]] = defaultdict(list)
    for animal, order, name, mg, place in rows:
        found[animal, order].append({"name": name[:1].upper() + name[1:], "mg": mg, "place": place or ""})
    return found


def _wanted(keys: list[int]) -> dict[int, set[str]]:
    lines = CutLine.objects.filter(sheet__animal__in=keys, sheet__current=True)
    whole = lines.filter(choice__is_grind=False, choice__is_discard=False).exclude(part__code="grind-trim")
    found: dict[int, set[str]] = defaultdict(set)
    for animal, part in whole.order_by().values_list("sheet__animal_id", "part__code"):
        found[animal].add(part)
    return found


def _readings(keys: list[int], orders: list[int]) -> dict[Owner, list[list[Any]]]:
    rows = (
        standing()
        .filter(Q(piece__animal__in=keys) | Q(piece__order__in=orders), point__in=POINT_KEYS, nominal=False)
        .order_by()
        .values_list("piece__animal_id", "piece__order_id", "point", "event__station_id")
        .annotate(n=Count("id"), first=Min("event__at"), last=Max("event__at"))
    )
    found: dict[Owner, list[list[Any]]] = defaultdict(list)
    for animal, order, point, station, n, first, last in rows:
        kept = [POINT_KEYS[Weighed(point)], station, n, first.isoformat(), last.isoformat()]
        found[animal, order].append(kept)
    return found


def facts_of(found: Yield, cause: str, figures: Figures, besides: Besides) -> dict[str, Any]:
    """All that is kept of one record, as plain values."""
    flows = [flow for between in found.account.flows for flow in between]
    waste = _waste_mg(found)
    return {
        "parts": whole_cuts(found),
        "ground_mg": sum(line.mg for line in found.account.packs if line.is_grind),
        "waste": [{"what": flow.name, "mg": flow.mg} for flow in flows if flow.kind is FlowKind.WASTE],
        "waste_mg": waste,
        "usual_waste_mg": None if waste is None else _usual_waste_mg(found),
        "regions": sorted({region for animal in found.animals for region in animal.regions_hit if region}),
        "bloodshot_known": all(_bloodshot_known(part.facts) for part in found.parts),
        "gaps": [_gap(gap, found) for gap in found.gaps],
        "lugs": besides.of(besides.lugs, found) if found.finished else [],
        **_to_trim(found, besides),
        **_ranges(found, figures),
        "readings": besides.of(besides.readings, found),
        "cause": cause,
        "bone_in": found.account.bone_in,
        "unweighed_packs": found.account.unweighed_packs,
        "notes": list(found.account.said),
    }


def whole_cuts(found: Yield) -> dict[str, int]:
    """The weight of each part's packs, in milligrams, of the parts that were packed whole and weighed."""
    parts: dict[str, int] = defaultdict(int)
    unweighed: set[str] = set()
    for line in found.account.packs:
        if line.is_grind:
            continue
        parts[line.part] += line.mg
        if line.weighed < line.count:
            unweighed.add(line.part)
    return {code: mg for code, mg in parts.items() if code not in unweighed}


def _gap(gap: Gap, found: Yield) -> dict[str, Any]:
    start, end = gap.span.start, gap.span.end
    return {
        "from": start.name,
        "to": end.name,
        "start": start.key,
        "end": end.key,
        "start_mg": gap.span.start_mg,
        "mg": gap.span.remainder_mg,
        "allowed_mg": gap.allowed_mg,
        "uncertainty_mg": gap.uncertainty_mg,
        "loss_bp": gap.loss_bp,
        "drying": bool(gap.drying_bp),
        "ground": (start.key, end.key) == (LUGS, TO_WRAP) and _was_ground(found),
        "flagged": gap.flagged,
    }


def _was_ground(found: Yield) -> bool:
    return any(line.is_grind for line in found.account.packs)


# --- waste, bloodshot and what was sent to the grinder -------------------------------------------------------------


def _waste_mg(found: Yield) -> int | None:
    """Bone, fat and sinew from the block on; None when any of it, or all of it, was not weighed."""
    keys = [point.key for point in found.account.points]
    if AT_BLOCK not in keys:
        return None
    flows = [flow for between in found.account.flows[keys.index(AT_BLOCK) :] for flow in between]
    waste = [flow.mg for flow in flows if flow.kind is FlowKind.WASTE and flow.name != BLOODSHOT]
    return None if not waste or None in waste else sum(mg for mg in waste if mg is not None)


def _usual_waste_mg(found: Yield) -> int | None:
    """What animals like this leave as bone, fat and sinew: of what came to the block, or should have."""
    steps = found.estimate.steps if found.estimate else ()
    boned = [index for index, step in enumerate(steps) if step.name == BONED and index]
    if len(boned) != 1:
        return None
    before, after = steps[boned[0] - 1].likely_mg, steps[boned[0]].likely_mg
    block = next((point.mg for point in found.account.points if point.key == AT_BLOCK), None)
    return (block or before) * (before - after) // before if before > after else None


def _bloodshot_known(facts: Facts) -> bool:
    return all_weighed(_bloodshot(facts)) is not None


def _bloodshot(facts: Facts) -> list[LineSum]:
    return [line for line in facts.lines if line.direction == Direction.WASTE and line.what == BLOODSHOT]


def _to_trim(found: Yield, besides: Besides) -> dict[str, Any]:
    """Whole cuts that the wrap table sent to the grinder, and whether the cut sheet leaves as much to it."""
    lines = [line for part in found.parts for line in part.facts.lines]
    back = [line for line in lines if line.run_kind == RunKind.WRAP and _is_lug_out(line)]
    sent = all_weighed(back) or 0
    if not sent:
        return {"to_trim_mg": 0, "to_trim_asked": True}
    whole = [line for line in lines if line.run_kind == RunKind.CUT and _is_lug_out(line)]
    on_table = all_weighed(line for line in whole if line.what == Contents.WHOLE_CUTS)
    wanted: set[str] = set().union(*(besides.wanted.get(animal.pk, set()) for animal in found.animals))
    packed = {line.part for line in found.account.packs if not line.is_grind}
    few = on_table is None or sent * WHOLE_BP <= on_table * TRIMMINGS_BP
    return {"to_trim_mg": sent, "to_trim_asked": few and wanted <= packed}


def _is_lug_out(line: LineSum) -> bool:
    return line.direction == Direction.OUT and line.piece_kind == PieceKind.LUG


# --- ranges --------------------------------------------------------------------------------------------------------


class _Certain:
    """As though all from the skinned carcass on were certain, and came to a multiple of what is published."""

    location = math.log(2)

    def interval(self, coverage: float) -> tuple[float, float]:
        return self.location, self.location


def _ranges(found: Yield, figures: Figures) -> dict[str, Any]:
    """The chains of these animals: as they were, of ordinary ones, and of ordinary ones that hung as long as they did.

    The last two are left empty where nothing about any of them is out of the ordinary.
    """
    kept: dict[str, Any] = {"ranges": [], "ordinary": [], "as_hung": [], "worst_shot_mg": 0}
    if found.estimate is None:
        return kept
    odd = any(_is_odd(part) for part in found.parts)
    for part in found.parts:
        asked = _Asked(part, figures, timezone.now())
        kept["ranges"].append(asked.chain(part).plain())
        if odd:
            average = _average_shot(part)
            kept["ordinary"].append(asked.chain(_usual_days(average)).plain())
            kept["as_hung"].append(asked.chain(average).plain())
        if found.own_mg is not None and found.own_mg < found.estimate.likely_mg:
            kept["worst_shot_mg"] += asked.worst_shot_mg()
    return kept


@dataclass(frozen=True, slots=True)
class _Asked:
    """One animal of which ranges are asked under several suppositions."""

    part: Part
    figures: Figures
    now: datetime

    def estimate(self, part: Part, learned: _Certain | None = None) -> Estimate | None:
        constants = self.figures.of_animal(part.animal)
        return estimate(part.animal, part.facts, constants, self.now, learned=learned) if constants else None

    def chain(self, part: Part) -> Chain:
        """The range of an animal taken apart: what learning moves, and what it does not."""
        published = self.estimate(part)
        assert published is not None
        states, fixed = [], (0, 0, 0)
        for each in _states(part):
            plain, doubled = self.estimate(each), self.estimate(each, _Certain())
            assert plain is not None
            assert doubled is not None
            state, fixed = _taken_apart(plain, doubled, in_pieces=part.animal.arrived_as == ArrivedAs.PIECES)
            states.append(state)
        whole = Range(published.low_mg, published.likely_mg, published.high_mg)
        return Chain(part.animal.species_id, class_of(part.animal), whole, tuple(states), fixed)

    def worst_shot_mg(self) -> int:
        """What the worst hit would cost beyond an average one, where nobody noted any."""
        part = self.part
        constants = self.figures.of_animal(part.animal)
        if constants is None or _regions(part) or _bloodshot_known(part.facts):
            return 0
        worst = max(constants.regions, key=lambda region: constants.regions[region].likely_bp)
        animal = copy(part.animal)
        animal.regions_hit = [worst]
        average, hit = self.estimate(part), self.estimate(replace(part, animal=animal))
        return max(0, average.likely_mg - hit.likely_mg) if average and hit else 0


def _states(part: Part) -> Iterable[Part]:
    """The states that an animal may have been weighed in, from the least meat to the most; mostly one."""
    animal = part.animal
    if (
        animal.arrived_as != ArrivedAs.WHOLE
        or animal.weight_basis
        or part.body_mg(Weighed.HANGING) is not None
    ):
        return [part]
    found = []
    for basis in (Basis.LIVE, Basis.DRESSED_FEET_ON, Basis.DRESSED_FEET_OFF):
        weighed = copy(animal)
        weighed.weight_basis = basis.value
        found.append(replace(part, animal=weighed))
    return found


def _taken_apart(
    plain: Estimate, doubled: Estimate, *, in_pieces: bool
) -> tuple[State, tuple[int, int, int]]:
    """What doubles with the lean share, how far off it may be from before, and what stays as it is."""
    meat = doubled.likely_mg - plain.likely_mg
    rest = plain.likely_mg - meat
    if not meat or in_pieces:
        # Pieces and bags have no loss before them that is not known.
        return State(meat), (doubled.low_mg - 2 * meat, rest, doubled.high_mg - 2 * meat)
    down, up = ((bound - rest) / (2 * meat) for bound in (doubled.low_mg, doubled.high_mg))
    return State(meat, -math.log(down) if down > 0 else FARTHEST, math.log(up)), (rest, rest, rest)


def _regions(part: Part) -> list[str]:
    return [region for region in part.animal.regions_hit if region]


def _is_odd(part: Part) -> bool:
    """Whether it is known where it was hit or what was cut off for it, or it did not hang the usual days."""
    unusual = part.hung_days(timezone.now()) != part.animal.species.hang_days
    return unusual or bool(_regions(part) or _bloodshot(part.facts))


def _usual_days(part: Part) -> Part:
    """The same animal as though it hung the usual days of its species."""
    return replace(part, facts=replace(part.facts, cut_at=None))


def _average_shot(part: Part) -> Part:
    """The same animal as though nobody had said where it was hit, nor weighed the bloodshot."""
    animal = copy(part.animal)
    animal.regions_hit = []
    lines = [
        replace(line, weighed=0, mg=0)
        if line.direction == Direction.WASTE and line.what == BLOODSHOT
        else line
        for line in part.facts.lines
    ]
    return replace(part, animal=animal, facts=replace(part.facts, lines=lines))
