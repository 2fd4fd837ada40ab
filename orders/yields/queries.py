"""Expected against packed, and where the pounds went, from what the ledger knows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.utils import timezone

from orders.intake.models import Animal, Order, State
from orders.ledger.models import Run
from orders.yields.account import Account, Part, came_skinned, is_packed, own_meat, points_and_flows
from orders.yields.constants import Constants
from orders.yields.estimate import Estimate, estimate, no_range
from orders.yields.figures import Figures, load_figures
from orders.yields.gaps import allowed_mg, is_gap, uncertainty_mg
from orders.yields.learned import Taught, load_taught
from orders.yields.rows import Facts, read_facts
from orders.yields.spans import Span, Status, spans, weighed_points_of

# What the work itself takes between two points, in basis points of the weight before it: drip at the block, what
# stays in the grinder, what stays on the table. Common practice, no source.
LOSS_BP = {"hanging": 0, "at_block": 200, "lugs": 150, "to_wrap": 100}


@dataclass(frozen=True, slots=True)
class Gap:
    """A span in which everything was weighed, and what it does not explain."""

    span: Span
    allowed_mg: int
    uncertainty_mg: int
    flagged: bool
    loss_bp: int = 0
    drying_bp: int = 0


@dataclass(frozen=True, slots=True)
class Yield:
    """Animals reconciled together (one, or all of an order that were ground together)."""

    animals: tuple[Animal, ...]
    order: Order
    estimate: Estimate | None
    account: Account
    finished: bool
    spans: tuple[Span, ...]
    gaps: tuple[Gap, ...]
    hung_days: int = 0
    pooled: bool = False
    no_range: str = ""
    parts: tuple[Part, ...] = ()

    @property
    def together(self) -> bool:
        return len(self.animals) > 1

    @property
    def own_mg(self) -> int | None:
        """The hunter's own meat in packs, fat apart; None while it is not finished or was not weighed."""
        return self.account.own_mg if self.finished else None

    @property
    def difference_mg(self) -> int | None:
        """Own meat packed less the likely weight expected."""
        if self.own_mg is None or self.estimate is None:
            return None
        return self.own_mg - self.estimate.likely_mg

    @property
    def points_weighed(self) -> str:
        weighed, of = self.points_counted
        return f"{weighed} of {of} points weighed"

    @property
    def points_counted(self) -> tuple[int, int]:
        """How many points were weighed, of how many."""
        return weighed_points_of(self.account.points)

    @property
    def flags(self) -> list[str]:
        """What the owner should look at, in words."""
        found = []
        if self.own_mg is not None and self.estimate is not None:
            if self.own_mg < self.estimate.low_mg:
                found.append("below the range")
            if self.own_mg > self.estimate.high_mg:
                found.append("above the range")
        found += [f"gap: {gap.span.start.name} to {gap.span.end.name}" for gap in self.gaps if gap.flagged]
        if self.finished and self.account.own_mg is None:
            found.append("packs not weighed" if self.account.packed_mg is None else "fat not weighed")
        if self.account.bone_in:
            found.append("has bone-in cuts")
        return found


def yields_of(animals: Sequence[Animal], *, learned: bool = False) -> list[Yield]:
    """One Yield for each animal, or for all animals of an order whose meat was put together.

    By the published figures alone, or with what the shop has `learned` from its other animals. Animals need their
    species and order at hand. The number of queries does not depend on that of the animals.
    """
    figures = load_figures()
    taught = load_taught(figures, animals) if learned else Taught()
    facts = read_facts(animals)
    by_order: dict[int, list[Animal]] = defaultdict(list)
    for animal in animals:
        by_order[animal.order_id].append(animal)
    found = []
    for order_id, members in by_order.items():
        together = facts.orders.get(order_id)
        pool = [animal for animal in members if animal.pk in facts.pooled]
        alone = [[animal] for animal in members if animal.pk not in facts.pooled]
        for group in [pool, *alone] if pool else alone:
            parts = [Part(animal, facts.animals[animal.pk]) for animal in group]
            found.append(_yield(parts, together if group is pool else None, figures, taught))
    return found


def yield_of(animal: Animal) -> Yield:
    """The yield of one animal, with the others of its order when they were put together; with what was learned."""
    order = Order.objects.select_related("hunter", "season").get(pk=animal.order_id)
    members = list(order.animals.exclude(ended="void").select_related("species", "taker", "no_tag_reason"))
    for member in members:
        member.order = order
    found = yields_of(members, learned=True)
    for each in found:
        if animal.pk in {member.pk for member in each.animals}:
            return each
    return yields_of([animal], learned=True)[0]


def _yield(parts: list[Part], together: Facts | None, figures: Figures, taught: Taught) -> Yield:
    account = points_and_flows(parts, together)
    animals = tuple(part.animal for part in parts)
    found = spans(account.points, account.flows)
    constants = figures.of_animal(animals[0])
    expected = _estimates(parts, figures, taught)
    closed = [span for span in found if span.status is Status.CLOSED and not _hide_came_off(span, animals)]
    return Yield(
        animals=animals,
        order=animals[0].order,
        estimate=expected,
        no_range="" if expected else _no_range(parts),
        account=own_meat(account),
        finished=all(is_packed(animal) for animal in animals),
        spans=found,
        gaps=tuple(_gap(account, span, _drying_bp(constants, parts, taught)) for span in closed),
        hung_days=_hung_days(parts),
        pooled=together is not None,
        parts=tuple(parts),
    )


def _no_range(parts: list[Part]) -> str:
    """Why there is no range, said of the first animal that lacks one."""
    said = [(part, no_range(part.animal, part.facts)) for part in parts]
    together = len(parts) > 1
    return next((f"{part.animal.label}: {why}" if together else why for part, why in said if why), "")


def _estimates(parts: list[Part], figures: Figures, taught: Taught) -> Estimate | None:
    """The range of each animal, added up; None when any of them has no weight or no figures."""
    found = []
    for part in parts:
        constants = figures.of_animal(part.animal)
        if constants is None:
            return None
        one = estimate(
            part.animal,
            part.facts,
            constants,
            timezone.now(),
            shares=taught.shares(part.animal, figures.parts_of(part.animal.species_id)),
            learned=taught.boneless(part.animal),
        )
        if one is None:
            return None
        found.append(one)
    return Estimate.summed(found)


def _hide_came_off(span: Span, animals: Sequence[Animal]) -> bool:
    """Whether hide, head and feet came off between: nobody weighs all of it, so what is left over is no gap."""
    return span.start.key == "received" and any(not came_skinned(animal) for animal in animals)


def _gap(account: Account, span: Span, drying_bp: int) -> Gap:
    """Judge a closed span by the work's own loss and by what the scales can tell."""
    keys = [point.key for point in account.points]
    first, last = keys.index(span.start.key), keys.index(span.end.key)
    readings = [each for key in keys[first : last + 1] for each in account.readings[key]]
    readings += [each for key in keys[first:last] for each in account.flow_readings[key]]
    drying = drying_bp if "hanging" in keys[first:last] else 0
    loss = sum(LOSS_BP.get(key, 0) for key in keys[first:last])
    allowed = allowed_mg(span.start_mg, loss + drying, readings)
    uncertainty = uncertainty_mg(readings)
    flagged = is_gap(span.remainder_mg, allowed, uncertainty)
    return Gap(span, allowed, uncertainty, flagged, loss, drying)


def _hung_days(parts: list[Part]) -> int:
    return max((part.hung_days(timezone.now()) for part in parts), default=0)


def _drying_bp(constants: Constants | None, parts: list[Part], taught: Taught) -> int:
    """The most that the first chill and the days of hanging take, in basis points."""
    return taught.drying_bp(parts[0].animal, constants, _hung_days(parts)) if constants else 0


def animals_for_table(season_id: int | None, species_id: int | None) -> list[Animal]:
    """Animals of a season with meat to reckon with, newest first."""
    found = Animal.objects.exclude(ended__in=["void", "refused", "spoiled"])
    found = found.filter(species__is_bird=False)
    if season_id is not None:
        found = found.filter(order__season=season_id)
    if species_id is not None:
        # What was put together is reckoned together: an animal of this species brings the others of its pool.
        pools = Run.objects.filter(order__animals__species=species_id, put_back=False).values("order")
        found = found.filter(Q(species=species_id) | Q(order__in=pools))
    return list(
        found.exclude(state__in=[State.BOOKED, State.NOT_RECEIVED])
        .select_related("species", "order__hunter")
        .order_by("-order_id", "n")
    )
