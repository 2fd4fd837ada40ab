"""The wrap table's own sum, and which packs can come of what lies on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from orders.floor.plan import TRIM
from orders.intake.models import Animal, Order
from orders.ledger.models import Contents, Direction, Piece, PieceState, Run
from orders.ledger.refusal import Refusal
from orders.ledger.weights import standing_lines
from shop.models import Choice, Part
from shop.weights import format_mg, mg_in, pounds

# What drip, the knife's last touch and the scales may leave between lugs and packs, as a share of what came and at
# least so much: common practice, no source.
LEFT_TOLERANCE_BP = 300
LEFT_TOLERANCE_MG = pounds("1")

# Bagged apart and in no lug: any table packs them, and they are no part of its sum.
APART = ("organs", "bones", "giblets")
LUG_WORDS = {
    Contents.WHOLE_CUTS: "a lug of whole cuts",
    Contents.GROUND: "a lug of ground meat",
    Contents.GRIND_TRIM: "a lug of grind trim",
    Contents.TENDERLOINS: "the tenderloin bag",
}


@dataclass(frozen=True, slots=True)
class TableSum:
    """What came to a table, what is packed, what went off as waste or back to the grinder. Milligrams.

    The sums are of what was weighed, organs and bones apart; `came_weighed` and `out_weighed` say whether that was
    everything. `packs` counts all of them.
    """

    came_mg: int = 0
    packed_mg: int = 0
    off_mg: int = 0
    packs: int = 0
    came_weighed: bool = True
    out_weighed: bool = True

    @property
    def left_mg(self) -> int | None:
        """What is left on the table, never below nothing; None where something was not weighed."""
        if not (self.came_weighed and self.out_weighed):
            return None
        return max(0, self.came_mg - self.packed_mg - self.off_mg)

    @property
    def tolerance_mg(self) -> int:
        """So much may be left, or be packed beyond what came, without a question."""
        return max(self.came_mg * LEFT_TOLERANCE_BP // 10_000, LEFT_TOLERANCE_MG)

    @property
    def is_left(self) -> bool:
        """More is left than is usual. Never where something was not weighed."""
        return (self.left_mg or 0) > self.tolerance_mg

    @property
    def is_beyond(self) -> bool:
        """More came off the table than was brought to it; packs that were only counted can but add to it."""
        return self.came_weighed and self.packed_mg + self.off_mg > self.came_mg + self.tolerance_mg

    @property
    def words(self) -> str:
        """`20.7 lb came to this table and 5.7 lb is packed`, with what went off."""
        came, packed, off = (format_mg(mg) for mg in (self.came_mg, self.packed_mg, self.off_mg))
        if not self.off_mg:
            return f"{came} came to this table and {packed} is packed"
        return f"{came} came to this table, {packed} is packed and {off} went off as waste or grind trim"

    @property
    def left_words(self) -> str:
        """What is left, in pounds, as the difference of the pounds that `words` shows."""
        return f"{mg_in(self.came_mg) - mg_in(self.packed_mg) - mg_in(self.off_mg)} lb"


def table_sum(run: Run) -> TableSum:
    """The sum of one job, from its standing lines."""
    lines = standing_lines().filter(run=run)
    fields = ("direction", "what", "weighing__mg", "piece__package__part__code")
    came: list[int | None] = []
    packs: list[int | None] = []
    off: list[int | None] = []
    apart = 0
    for direction, what, mg, part in lines.values_list(*fields):
        if part in APART:
            apart += 1
        else:
            (came if direction == Direction.IN else packs if what == "pack" else off).append(mg)
    return TableSum(
        came_mg=_sum(came),
        packed_mg=_sum(packs),
        off_mg=_sum(off),
        packs=len(packs) + apart,
        came_weighed=None not in came,
        out_weighed=None not in packs + off,
    )


def label_of(owner: Animal | Order) -> str:
    """The number of an animal, or of an order whose meat is together: `26-0147/2`."""
    return owner.label if isinstance(owner, Animal) else owner.number


def _sum(weights: Iterable[int | None]) -> int:
    return sum(mg for mg in weights if mg is not None)


def on_table(run: Run) -> list[Piece]:
    """The lugs and bags that lie on a job's table, with their place."""
    here = Piece.objects.filter(lines__run=run, lines__direction=Direction.IN, state=PieceState.TABLE)
    return list(here.select_related("place").distinct())


def comes_of(part: Part, choice: Choice) -> tuple[Contents, ...]:
    """What has to lie on the table for such a pack, one of these; nothing for what is bagged apart anyway.

    Tenderloins that were not bagged early, and cubes of the trim, may have come among the whole cuts.
    """
    if part.code in APART:
        return ()
    if choice.is_grind:
        return (Contents.GROUND,)
    if part.code == TRIM:
        return (Contents.GRIND_TRIM, Contents.WHOLE_CUTS)
    if part.code == "tenderloin":
        return (Contents.TENDERLOINS, Contents.WHOLE_CUTS)
    return (Contents.WHOLE_CUTS,)


def can_be_packed(part: Part, choice: Choice, here: Iterable[Piece]) -> bool:
    """Whether what such a pack comes of is among the lugs on the table."""
    wanted = comes_of(part, choice)
    return not wanted or any(piece.contents in wanted for piece in here)


def refuse_what_is_not_here(part: Part, choice: Choice, here: Iterable[Piece]) -> None:
    """Refuse a pack of what is in no lug on this table (`not_on_this_table`)."""
    if not can_be_packed(part, choice, here):
        lugs = " or ".join(LUG_WORDS[contents] for contents in comes_of(part, choice))
        said = f"{part.name}, {choice.name.lower()}: bring {lugs} to this table first."
        raise Refusal("not_on_this_table", said, "choice")
