"""The points at which one animal, or animals put together, were weighed, and what went off and was added between."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime

from django.db.models import Q
from django.utils import timezone

from orders.intake.models import Animal, ArrivedAs, State
from orders.ledger.models import Direction, PieceKind, RunKind
from orders.ledger.models import Point as Weighed
from orders.yields.gaps import Readings
from orders.yields.rows import Facts, LineSum, PieceRow, all_weighed
from orders.yields.spans import Flow, FlowKind, Point

NAMES = {
    "received": "Received",
    "hanging": "Hanging",
    "at_block": "At the block",
    "lugs": "Lugs",
    "to_wrap": "On the wrap table",
    "packed": "Packed",
}
WASTE_NAMES = {"bone_fat": "bone and fat", "waste": "waste", "bloodshot": "bloodshot"}
PACKED_STATES = (
    State.FREEZING,
    State.READY,
    State.NOTIFIED,
    State.PARTLY_COLLECTED,
    State.COLLECTED,
)


# Waiting for the grinder or the wrap table: all that can be left to do once the block is done.
AFTER_THE_BLOCK = (State.GRINDING, State.WRAPPING)
IS_PACKED = Q(state__in=PACKED_STATES) | Q(state__in=AFTER_THE_BLOCK, order__closed_at__isnull=False)


def is_packed(animal: Animal) -> bool:
    """As `IS_PACKED`: packed, or its order was closed without what still waited. Needs its order at hand."""
    return animal.state in PACKED_STATES or (
        animal.state in AFTER_THE_BLOCK and animal.order.closed_at is not None
    )


def what_words(stable: str) -> str:
    """A stable word of the ledger as a person reads it: `bone_fat` is `bone and fat`."""
    return WASTE_NAMES.get(stable, stable.replace("_", " "))


# Not part of the boneless meat that was expected.
APART = ("organs", "bones")


@dataclass(frozen=True, slots=True)
class Part:
    """One animal with what the ledger knows of it."""

    animal: Animal
    facts: Facts

    def body_mg(self, point: str) -> int | None:
        """The weight of all body pieces at a point; None when any was not weighed there."""
        found = [self.facts.weight(piece, point) for piece in self.facts.body]
        if not found or None in found:
            return None
        return sum(each.mg for each in found if each is not None)

    def weighed_at(self, point: str) -> datetime | None:
        """When the last body piece was weighed at a point."""
        found = [self.facts.weight(piece, point) for piece in self.facts.body]
        return max((each.at for each in found if each is not None), default=None)

    def bags_before(self, moment: datetime | None) -> list[PieceRow]:
        """Tenderloin bags that were pulled before a moment, and so are not in a weight taken then."""
        return [bag for bag in self.facts.bags if moment is not None and bag.made_at <= moment]

    def bag_mg(self, bags: Iterable[PieceRow]) -> int | None:
        """The weight of these bags; None when any was not weighed."""
        found = [self.facts.weight(bag, Weighed.PART_OFF) for bag in bags]
        return None if None in found else sum(each.mg for each in found if each is not None)

    def hung_days(self, now: datetime) -> int:
        """Days between the weight that the expectation starts from and the knife; the usual days before cutting."""
        since = self.weighed_at(Weighed.HANGING) or self.weighed_at(Weighed.RECEIVED)
        if since is None:
            return 0
        if self.facts.cut_at is None:
            return int(self.animal.species.hang_days)
        return max(0, (timezone.localdate(self.facts.cut_at) - timezone.localdate(since)).days)


@dataclass(frozen=True, slots=True)
class Account:
    """Points and what lies between them; `readings` by point, `flow_readings` by the point before the flow."""

    points: tuple[Point, ...]
    flows: tuple[tuple[Flow, ...], ...]
    readings: dict[str, list[Readings]]
    flow_readings: dict[str, list[Readings]]
    packs: tuple[LineSum, ...]
    added: tuple[Flow, ...]
    packed_mg: int | None = None
    own_mg: int | None = None
    apart_mg: int = 0
    pack_count: int = 0
    unweighed_packs: int = 0
    said: tuple[str, ...] = ()

    @property
    def bone_in(self) -> bool:
        return any(line.bone_in for line in self.packs)

    @property
    def added_mg(self) -> int | None:
        """Fat and the like; None when any of it was not weighed."""
        weights = [flow.mg for flow in self.added]
        return None if None in weights else sum(mg for mg in weights if mg is not None)


@dataclass(slots=True)
class _Ledger:
    """Lines of all animals reckoned with, and of what was made together."""

    parts: list[Part]
    together: Facts | None
    all: list[Facts] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.all = [part.facts for part in self.parts] + ([self.together] if self.together else [])

    def sums(self, run_kind: str, direction: str) -> list[LineSum]:
        return [line for facts in self.all for line in facts.sums(run_kind, direction)]

    def done(self, run_kind: str) -> bool:
        """Whether this kind of job was done, and none of it is open."""
        return any(run_kind in facts.kinds_done for facts in self.all) and not any(
            run_kind in facts.kinds_open for facts in self.all
        )


def points_and_flows(parts: list[Part], together: Facts | None) -> Account:
    """The points that were reached, weighed or not, and the flows between them."""
    ledger = _Ledger(parts, together)
    reached = _reached(ledger)
    points = tuple(Point(_name(ledger, key), key, _point_mg(ledger, key)) for key in reached)
    return Account(
        points=points,
        flows=tuple(tuple(_flows(ledger, key)) for key in reached[:-1]),
        readings={key: _readings(ledger, key) for key in reached},
        flow_readings={key: [line.readings for line in _flow_lines(ledger, key)] for key in reached},
        packs=tuple(_packs(ledger)),
        added=tuple(_added(ledger)),
        said=tuple(
            f"{RunKind(kind).label} was finished with a reason: {reason}"
            for facts in ledger.all
            for kind, reason in facts.reasons
        ),
    )


def own_meat(account: Account) -> Account:
    """The account with what was packed, and of it the hunter's own: packs less what was added."""
    meat = [line for line in account.packs if line.part not in APART]
    packed, added = all_weighed(meat), account.added_mg
    apart = [line for line in account.packs if line.part in APART]
    return replace(
        account,
        packed_mg=packed,
        own_mg=None if packed is None or added is None else packed - added,
        apart_mg=sum(line.mg for line in apart),
        pack_count=sum(line.count for line in account.packs),
        unweighed_packs=sum(line.count - line.weighed for line in account.packs),
    )


def _reached(ledger: _Ledger) -> list[str]:
    """Points that the animals have come to. What is at the block has passed hanging, weighed or not."""
    keys = ["received"]
    if any(part.animal.hung_at for part in ledger.parts) or ledger.done(RunKind.CUT):
        keys.append("hanging")
    if all(part.facts.cut_at for part in ledger.parts):
        keys.append("at_block")
    if ledger.done(RunKind.CUT):
        keys.append("lugs")
    if ledger.done(RunKind.WRAP) and all(is_packed(part.animal) for part in ledger.parts):
        keys += ["to_wrap", "packed"]
    return keys


def _point_mg(ledger: _Ledger, key: str) -> int | None:
    if key == "packed":
        return all_weighed(_packs(ledger))
    if key == "to_wrap":
        return _to_wrap_mg(ledger)
    return _summed(_animal_point(part, key) for part in ledger.parts)


def _to_wrap_mg(ledger: _Ledger) -> int | None:
    """What came to the wrap tables, less what went back from there to the grinder: it came a second time, ground."""
    came, back = all_weighed(ledger.sums(RunKind.WRAP, Direction.IN)), _sent_back(ledger)
    back_mg = all_weighed(back) if back else 0
    return None if came is None or back_mg is None else came - back_mg


def _name(ledger: _Ledger, key: str) -> str:
    """A point's name; says so where bagged tenderloins are added to what hung, lay at the block, or is in lugs."""
    if key not in ("hanging", "at_block", "lugs"):
        return NAMES[key]
    point = {"hanging": Weighed.HANGING, "at_block": Weighed.AT_BLOCK}.get(key)
    bags = [
        part.bag_mg(part.bags_before(part.weighed_at(point)) if point else part.facts.bags)
        for part in ledger.parts
    ]
    return f"{NAMES[key]}, with the tenderloins" if any(bags) else NAMES[key]


def _animal_point(part: Part, key: str) -> int | None:
    """The weight of one animal at a point, tenderloins that were bagged before it included."""
    if key == "received":
        return part.body_mg(Weighed.RECEIVED)
    if key == "lugs":
        lugs = [
            line for line in part.facts.sums(RunKind.CUT, Direction.OUT) if line.piece_kind == PieceKind.LUG
        ]
        return _plus(all_weighed(lugs), part.bag_mg(part.facts.bags))
    point = Weighed.HANGING if key == "hanging" else Weighed.AT_BLOCK
    moment = part.weighed_at(point)
    return _plus(part.body_mg(point), part.bag_mg(part.bags_before(moment)))


def _plus(first: int | None, second: int | None) -> int | None:
    """A weight with the bagged tenderloins; bags that were not weighed are a flow of their own (see `_flows`)."""
    return None if first is None else first + (second or 0)


def _summed(weights: Iterable[int | None]) -> int | None:
    found = list(weights)
    return None if not found or None in found else sum(mg for mg in found if mg is not None)


def _flows(ledger: _Ledger, key: str) -> list[Flow]:
    """What went off, was wasted or was added after a point and before the next."""
    flows = [_flow(line) for line in _flow_lines(ledger, key)]
    if key == "received":
        bags = [(part, bag) for part in ledger.parts for bag in part.facts.bags]
        flows += [Flow(FlowKind.OFF, bag.name, None) for part, bag in bags if part.bag_mg([bag]) is None]
    return flows


def _flow_lines(ledger: _Ledger, key: str) -> list[LineSum]:
    if key == "received":
        off = [line for line in ledger.sums(RunKind.SKIN, Direction.OUT) if line.piece_kind == PieceKind.KEPT]
        return [*off, *ledger.sums(RunKind.SKIN, Direction.WASTE)]
    if key == "at_block":
        return ledger.sums(RunKind.CUT, Direction.WASTE)
    if key == "lugs":
        return ledger.sums(RunKind.GRIND, Direction.ADDED)
    if key == "to_wrap":
        return ledger.sums(RunKind.WRAP, Direction.WASTE)
    return []


def _flow(line: LineSum) -> Flow:
    kind = {"out": FlowKind.OFF, "waste": FlowKind.WASTE, "added": FlowKind.ADDED}[line.direction]
    return Flow(kind, what_words(line.what), line.mg if line.weighed == line.count else None)


def _packs(ledger: _Ledger) -> list[LineSum]:
    return [line for line in ledger.sums(RunKind.WRAP, Direction.OUT) if line.piece_kind == PieceKind.PACKAGE]


def _sent_back(ledger: _Ledger) -> list[LineSum]:
    """Lugs of grind trim that were made at the wrap table."""
    return [line for line in ledger.sums(RunKind.WRAP, Direction.OUT) if line.piece_kind == PieceKind.LUG]


def _added(ledger: _Ledger) -> list[Flow]:
    return [_flow(line) for line in ledger.sums(RunKind.GRIND, Direction.ADDED)]


def _readings(ledger: _Ledger, key: str) -> list[Readings]:
    """The readings that a point's weight is the sum of."""
    if key == "packed":
        return [line.readings for line in _packs(ledger)]
    if key == "to_wrap":
        return [line.readings for line in [*ledger.sums(RunKind.WRAP, Direction.IN), *_sent_back(ledger)]]
    if key == "lugs":
        return [line.readings for line in ledger.sums(RunKind.CUT, Direction.OUT)]
    point = {"received": Weighed.RECEIVED, "hanging": Weighed.HANGING, "at_block": Weighed.AT_BLOCK}[key]
    weights = [part.facts.weight(piece, point) for part in ledger.parts for piece in part.facts.body]
    return [Readings(each.division_mg, 1) for each in weights if each is not None]


def came_skinned(animal: Animal) -> bool:
    """Whether what came in had no hide on, so that its received weight is a bone-in or boneless one."""
    return animal.arrived_as != ArrivedAs.WHOLE
