"""Opening and closing a job of work."""

from __future__ import annotations

from django.db.models import QuerySet
from django.utils import timezone

from orders.intake.models import Animal, Order
from orders.ledger.entry import Entry
from orders.ledger.models import Direction, Piece, PieceState, Run, RunKind
from orders.ledger.refusal import Refusal
from shop.codes import Kind
from shop.counters import new_codes
from shop.models import Station
from shop.places import sink, table_of


def refuse_if_open(kind: RunKind, owner: Animal | Order) -> None:
    """Refuse when the same job is open already, saying who has it, where and since when (`already_open`)."""
    whose = {"animal": owner} if isinstance(owner, Animal) else {"order": owner}
    run = (
        Run.objects.filter(kind=kind, closed_at=None, **whose).select_related("opened_by", "station").first()
    )
    if run is not None:
        since = timezone.localtime(run.opened_at).strftime("%H:%M")
        name = owner.label if isinstance(owner, Animal) else owner.number
        raise Refusal("already_open", f"{run.opened_by} has had {name} open at {run.station} since {since}.")


def refuse_if_table_taken(run: Run) -> None:
    """Refuse to open a job at a table where another one of its kind is open (`table_busy`). Locks the station."""
    Station.objects.select_for_update().get(pk=run.station_id)
    here = Run.objects.filter(station=run.station_id, kind=run.kind, closed_at=None)
    other = here.exclude(pk=run.pk).select_related("animal__order", "order").first()
    if other is not None:
        owner = other.animal or other.order
        name = owner.label if isinstance(owner, Animal) else owner.number if owner else ""
        raise Refusal("table_busy", f"{name} is on the table of {run.station}. Finish it first.")


def open_run(entry: Entry, kind: RunKind, owner: Animal | Order, station: Station) -> Run:
    """Open a job for one animal, or for one order whose meat is ground together."""
    refuse_if_open(kind, owner)
    run = Run.objects.create(
        code=new_codes(Kind.RUN)[0],
        kind=kind,
        animal=owner if isinstance(owner, Animal) else None,
        order=owner if isinstance(owner, Order) else None,
        station=station,
        opened_by=entry.by.person,
        opened_at=entry.at,
    )
    entry.run = run
    return run


def runs_of(animal: Animal, kind: RunKind) -> QuerySet[Run]:
    """The jobs of one kind that an animal has or had; those opened by mistake and put back do not count."""
    return animal.runs.filter(kind=kind, put_back=False)


def is_skinned(animal: Animal) -> bool:
    """Whether skinning was finished."""
    return runs_of(animal, RunKind.SKIN).filter(closed_at__isnull=False).exists()


def need_open(run: Run, *kinds: RunKind) -> None:
    """Refuse work on a job that is finished (`run_closed`), or of another kind than those named (`wrong_job`)."""
    if run.closed_at is not None:
        raise Refusal("run_closed", f"This {run.get_kind_display().lower()} is finished already.")
    if kinds and run.kind not in kinds:
        raise Refusal("wrong_job", f"That is no part of this job: it is {run.get_kind_display().lower()}.")


def close_run(entry: Entry, run: Run, reason: str = "") -> None:
    """Close a job by compare-and-set; two people finishing at once get one answer each."""
    changed = Run.objects.filter(pk=run.pk, closed_at=None).update(
        closed_at=entry.at, close_reason=reason[:200]
    )
    if changed != 1:
        raise Refusal("run_closed", f"This {run.get_kind_display().lower()} is finished already.")
    run.closed_at, run.close_reason = entry.at, reason[:200]


def reopen_run(entry: Entry, run: Run) -> None:
    """Open a finished job again, by compare-and-set: what it used up lies on its table once more.

    When it was finished, and the reason then given, stay in the event. Only for `reopen_job`: what has ended moves by
    no other action.
    """
    closed = Run.objects.filter(pk=run.pk, put_back=False).exclude(closed_at=None)
    if run.closed_at is None or closed.update(closed_at=None, close_reason="") != 1:
        raise Refusal("open_already", f"This {run.get_kind_display().lower()} is open.")
    entry.data["before"] = {"closed_at": run.closed_at.isoformat(), "reason": run.close_reason}
    run.closed_at, run.close_reason = None, ""
    went_in = Piece.objects.filter(lines__run=run, lines__direction=Direction.IN, state=PieceState.USED)
    entry._move_together(
        list(went_in.distinct()),
        (PieceState.USED, sink("used").pk, None),
        (PieceState.TABLE, table_of(run.station), None),
    )
