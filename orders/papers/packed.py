"""What was packed of an animal, or of those put together, by cut: as printed, the parts add up to the whole."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.db.models import Q

from orders.custody.book import cut_words
from orders.ledger.models import PieceState
from orders.packing.models import Package
from orders.papers.rounding import Printed
from orders.yields.account import APART
from orders.yields.queries import Yield
from orders.yields.spans import Flow, FlowKind


@dataclass(frozen=True, slots=True)
class Taken:
    """What went off, was waste or was added, of one name: what was weighed of it, None where nothing was."""

    kind: FlowKind
    name: str
    mg: int | None
    unweighed: int


def by_name(flows: Sequence[Flow]) -> list[Taken]:
    """Flows of one name added up, in the order in which each name comes first."""
    found: dict[tuple[FlowKind, str], list[int | None]] = {}
    for flow in flows:
        found.setdefault((flow.kind, flow.name), []).append(flow.mg)
    return [
        Taken(kind, name, sum(known) if known else None, len(weights) - len(known))
        for (kind, name), weights in found.items()
        for known in [[mg for mg in weights if mg is not None]]
    ]


@dataclass(slots=True)
class Cut:
    """The packs of one cut from one animal, or from what was put together (`animal_n` None)."""

    name: str
    animal_n: int | None
    apart: bool
    bone_in: bool
    packs: list[Package] = field(default_factory=list)
    printed: Decimal = Decimal(0)

    @property
    def mg(self) -> int:
        """The weight of the packs that were weighed."""
        return sum(pack.weighing.mg for pack in self.packs if pack.weighing)

    @property
    def unweighed(self) -> int:
        return sum(pack.weighing is None for pack in self.packs)

    @property
    def nominal(self) -> list[Package]:
        """Packs whose weight is their stated size."""
        return [pack for pack in self.packs if pack.weighing and pack.weighing.nominal]

    @property
    def pieces(self) -> int | None:
        """Steaks, chops and the like in all its packs; None where they were not counted in each."""
        counts = [pack.count for pack in self.packs]
        return None if None in counts else sum(count for count in counts if count)


@dataclass(frozen=True, slots=True)
class Packed:
    """All cuts, and what they add up to as printed. `own` is None where packs or what was added were not weighed."""

    cuts: tuple[Cut, ...]
    total: Decimal
    apart: Decimal
    added: tuple[tuple[Taken, Decimal | None], ...]
    own: Decimal | None

    @property
    def packs(self) -> int:
        return sum(len(cut.packs) for cut in self.cuts)

    @property
    def unweighed(self) -> int:
        return sum(cut.unweighed for cut in self.cuts)

    @property
    def last(self) -> datetime | None:
        """When the last pack was made."""
        return max((pack.packed_at for cut in self.cuts for pack in cut.packs), default=None)

    def weight_of(self, cuts: Iterable[Cut]) -> Decimal:
        """The printed weights of some cuts added up."""
        return sum((cut.printed for cut in cuts), Decimal(0))


def packed_of(found: Yield, printed: Printed) -> Packed:
    """Everything packed of these animals, cut by cut, rounded so that cuts and sums agree."""
    cuts = _cuts(found)
    total = printed.of(sum(cut.mg for cut in cuts))
    for cut, share in zip(cuts, printed.share_out(total, [cut.mg for cut in cuts]), strict=True):
        cut.printed = share
    apart = sum((cut.printed for cut in cuts if cut.apart), Decimal(0))
    own, added = _own_and_added(found, total - apart, printed)
    return Packed(tuple(cuts), total, apart, added, own)


def _own_and_added(
    found: Yield, meat: Decimal, printed: Printed
) -> tuple[Decimal | None, tuple[tuple[Taken, Decimal | None], ...]]:
    """Own meat and what was added to it, which are all the meat in packs; each on its own where one is not known."""
    added = by_name(found.account.added)
    if found.own_mg is None:
        return None, tuple((each, None if each.mg is None else printed.of(each.mg)) for each in added)
    own, *shares = printed.share_out(meat, [found.own_mg, *(each.mg or 0 for each in added)])
    return own, tuple(zip(added, shares, strict=True))


def _cuts(found: Yield) -> list[Cut]:
    """Cuts of the animals in their order, then of what was put together; parts in the order of the cut sheet."""
    numbers = {animal.pk: animal.n for animal in found.animals}
    cuts: dict[tuple[int | None, str], Cut] = {}
    for pack in _packages(found):
        number = numbers[pack.animal_id] if pack.animal_id else None
        name = cut_words(pack)
        key = (number, name)
        if key not in cuts:
            cuts[key] = Cut(name, number, pack.part.code in APART, pack.choice.bone_in)
        cuts[key].packs.append(pack)
    return sorted(cuts.values(), key=lambda cut: (cut.animal_n is None, cut.animal_n or 0))


def _packages(found: Yield) -> Sequence[Package]:
    whose = Q(animal__in=[animal.pk for animal in found.animals]) | Q(order=found.order)
    standing = Package.objects.filter(whose, run__put_back=False).exclude(piece__state=PieceState.VOID)
    related = standing.select_related("part", "choice", "weighing")
    return list(related.order_by("part__sort", "choice__sort", "id"))
