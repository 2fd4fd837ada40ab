"""Expected against packed, and where the pounds went, from what the ledger knows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.utils import timezone

from orders.intake.models import Animal, Order, State
from orders.ledger.models import Run
from orders.yields.account import PACKED_STATES, Account, Part, own_meat, points_and_flows
from orders.yields.constants import Constants
from orders.yields.estimate import Estimate, estimate
from orders.yields.figures import Figures, load_figures
from orders.yields.gaps import allowed_mg, is_gap, uncertainty_mg
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
        weighed, of = weighed_points_of(self.account.points)
        return f"{weighed} of {of} points weighed"

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


def yields_of(animals: Sequence[Animal]) -> list[Yield]:
    """One Yield for each animal, or for all animals of an order whose meat was put together.

    Animals need their species and order at hand. The number of queries does not depend on that of the animals.
    """
    figures = load_figures()
    facts = read_facts(animals)
    by_order: dict[int, list[Animal]] = defaultdict(list)
    for animal in animals:
        by_order[animal.order_id].append(animal)
    found = []
    for order_id, members in by_order.items():
        together = facts.orders.get(order_id)
        groups = [members] if together and together.lines else [[animal] for animal in members]
        for group in groups:
            parts = [Part(animal, facts.animals[animal.pk]) for animal in group]
            found.append(_yield(parts, together if len(groups) == 1 and together else None, figures))
    return found


def yield_of(animal: Animal) -> Yield:
    """The yield of one animal, with the others of its order when they were put together."""
    order = Order.objects.select_related("hunter", "season").get(pk=animal.order_id)
    members = list(order.animals.exclude(ended="void").select_related("species", "taker", "no_tag_reason"))
    for member in members:
        member.order = order
    found = yields_of(members)
    for each in found:
        if animal.pk in {member.pk for member in each.animals}:
            return each
    return yields_of([animal])[0]


def _yield(parts: list[Part], together: Facts | None, figures: Figures) -> Yield:
    account = points_and_flows(parts, together)
    animals = tuple(part.animal for part in parts)
    found = spans(account.points, account.flows)
    constants = figures.of(animals[0].species_id)
    return Yield(
        animals=animals,
        order=animals[0].order,
        estimate=_estimates(parts, figures),
        account=own_meat(account),
        finished=all(animal.state in PACKED_STATES for animal in animals),
        spans=found,
        gaps=tuple(_gap(account, span, constants, parts) for span in found if span.status is Status.CLOSED),
    )


def _estimates(parts: list[Part], figures: Figures) -> Estimate | None:
    """The range of each animal, added up; None when any of them has no weight or no figures."""
    found = []
    for part in parts:
        constants = figures.of(part.animal.species_id)
        one = estimate(part.animal, part.facts, constants, timezone.now()) if constants else None
        if one is None:
            return None
        found.append(one)
    return Estimate.summed(found)


def _gap(account: Account, span: Span, constants: Constants | None, parts: list[Part]) -> Gap:
    """Judge a closed span by the work's own loss and by what the scales can tell."""
    keys = [point.key for point in account.points]
    first, last = keys.index(span.start.key), keys.index(span.end.key)
    readings = [each for key in keys[first : last + 1] for each in account.readings[key]]
    readings += [each for key in keys[first:last] for each in account.flow_readings[key]]
    loss = sum(LOSS_BP.get(key, 0) for key in keys[first:last])
    if "hanging" in keys[first:last] and constants is not None:
        loss += _drying_bp(constants, parts)
    allowed = allowed_mg(span.start_mg, loss, readings)
    uncertainty = uncertainty_mg(readings)
    return Gap(span, allowed, uncertainty, is_gap(span.remainder_mg, allowed, uncertainty))


def _drying_bp(constants: Constants, parts: list[Part]) -> int:
    """The most that the first chill and the days of hanging take, in basis points."""
    days = max((part.hung_days(timezone.now()) for part in parts), default=0)
    return constants.first_chill.high_bp + constants.drying_per_day.high_bp * days


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
