"""The shop's own values of the yield figures: set with a reason, put back, and never lost.

Each change is a row that stays: what was there before, what is there now, who, when and why. Loading the catalog
again leaves them all alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from shop.models import FigureChange, Person, YieldFigure

WHOLE_BP = 10_000
# A hit in one region costs at most three times the average of all hits.
MOST_TIMES_BP = 30_000
REASON_LENGTH = 200


class FigureRefused(Exception):  # noqa: N818 - the shop refuses, nothing has failed
    """Why it is not done; the text is a sentence for the person, `field` the form field it stands beside."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.field = field


@dataclass(frozen=True, slots=True)
class Own:
    """The shop's own value in basis points: low, likely and high."""

    low_bp: int
    likely_bp: int
    high_bp: int


def most_bp(quantity: str) -> int:
    """The most that a figure of this quantity can be: the whole, or three times for a region of a hit."""
    return MOST_TIMES_BP if quantity.startswith("shot_at_") else WHOLE_BP


def set_own(
    figure: YieldFigure, own: Own, *, reason: str, by: Person, seen: int | None, sender_id: UUID
) -> tuple[FigureChange, bool]:
    """Use the shop's own value instead of the published one; returns the change and whether it is new.

    `seen` is the change that the person saw as the last one (None: none); the same `sender_id` changes once.
    Raises FigureRefused for a value that cannot be, without a reason, or when somebody changed it meanwhile.
    """
    most = most_bp(figure.quantity)
    if not 0 <= own.likely_bp <= most:
        raise FigureRefused(f"This is between 0 and {most // 100} %.", "likely")
    if not 0 <= own.low_bp <= own.likely_bp:
        raise FigureRefused("Low is between 0 % and the likely value.", "low")
    if not own.likely_bp <= own.high_bp <= most:
        raise FigureRefused(f"High is between the likely value and {most // 100} %.", "high")
    return _change(figure, own, reason=reason, by=by, seen=seen, sender_id=sender_id)


def put_back(
    figure: YieldFigure, *, reason: str, by: Person, seen: int | None, sender_id: UUID
) -> tuple[FigureChange, bool]:
    """Use the published value again; returns the change and whether it is new. Raises FigureRefused."""
    return _change(figure, None, reason=reason, by=by, seen=seen, sender_id=sender_id)


def last_change(figure: YieldFigure) -> FigureChange | None:
    """The newest change of a figure."""
    return figure.changes.first()


def _change(
    figure: YieldFigure, own: Own | None, *, reason: str, by: Person, seen: int | None, sender_id: UUID
) -> tuple[FigureChange, bool]:
    why = reason.strip()
    if not why or len(why) > REASON_LENGTH:
        raise FigureRefused("Say why, in a few words; the reason is kept.", "reason")
    with transaction.atomic():
        row = YieldFigure.objects.select_for_update().get(pk=figure.pk)
        before = FigureChange.objects.filter(uid=sender_id).first()
        if before is not None:
            return before, False
        _refuse_stale(row, own, seen)
        change = FigureChange.objects.create(
            uid=sender_id,
            figure=row,
            low_bp=own.low_bp if own else None,
            likely_bp=own.likely_bp if own else None,
            high_bp=own.high_bp if own else None,
            was_low_bp=row.override_low_bp,
            was_likely_bp=row.override_bp,
            was_high_bp=row.override_high_bp,
            reason=why,
            person=by,
            at=timezone.now(),
        )
        row.override_low_bp, row.override_bp, row.override_high_bp = (
            change.low_bp,
            change.likely_bp,
            change.high_bp,
        )
        row.save(update_fields=["override_low_bp", "override_bp", "override_high_bp"])
    return change, True


def _refuse_stale(row: YieldFigure, own: Own | None, seen: int | None) -> None:
    last = last_change(row)
    if (last.pk if last else None) != seen:
        raise FigureRefused("Somebody changed this figure meanwhile. Look at it again.")
    if own is None and row.override_bp is None:
        raise FigureRefused("The published value is used already.")
    now = (row.override_low_bp, row.override_bp, row.override_high_bp)
    if own is not None and (own.low_bp, own.likely_bp, own.high_bp) == now:
        raise FigureRefused("The shop uses these values already.", "likely")
