"""The page of one animal: what is known, its pieces and weights, its holds, and its forms, fresh or as sent."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, render

from orders.cutsheets.queries import current_sheet
from orders.intake import queries
from orders.intake.arrival import IN_PIECES
from orders.intake.asked import is_asked
from orders.intake.cautions import DECIDE, cautions
from orders.intake.facts import AnimalFacts
from orders.intake.forms import (
    EndForm,
    FiledForm,
    HoldForm,
    PieceAddForm,
    ReasonForm,
    ReleaseForm,
    TagForm,
    WeighOnlyForm,
)
from orders.intake.models import Animal, Region
from orders.intake.owed import animal_owes
from orders.intake.views import HISTORY_SHOWN
from orders.ledger.models import ENDED, PieceState, Point, Weighing
from orders.ledger.voids import AT_THE_DOOR, VOIDABLE
from orders.pickup.forms import HandBackForm, HaulForm
from orders.pickup.models import Release
from orders.pickup.who import may_collect

WEIGHED_ALONE = ("add_animal", "bring_piece")


def find_animal(pk: int) -> Animal:
    """An animal with what its page shows of it, or 404."""
    known = Animal.objects.select_related("order__hunter", "species", "no_tag_reason", "taker")
    return get_object_or_404(known, pk=pk)


def animal_page(request: HttpRequest, found: Animal, *, status: int = 200, **sent: Any) -> HttpResponseBase:
    """Render the page; forms that were refused are in `sent`, as they were sent."""
    rows = queries.piece_rows([found])[found.pk]
    sheet = current_sheet(found)
    limit = None if request.GET.get("history") == "all" else HISTORY_SHOWN
    events = queries.history(found.order, found, limit=limit and limit + 1)
    context = {
        "animal": found,
        "order": found.order,
        "asked": {
            fact for fact in AnimalFacts.__slots__ if is_asked(fact, found.species, [found.arrived_as])
        },
        "regions": [Region(region).label for region in found.regions_hit],
        "runs": found.runs.select_related("station", "opened_by").order_by("id"),
        "sheet": sheet,
        "owed": animal_owes(found, rows, has_sheet=sheet is not None),
        "cautions": cautions(found, ((row.piece.kind, row.piece.state) for row in rows)),
        "decide": DECIDE,
        "holds": found.holds.select_related("opened_by", "released_by"),
        "weighings": [(row, may_void(row)) for row in queries.weighings(found)],
        "events": events[:limit],
        "more_events": limit is not None and len(events) > limit,
        **_pieces(found, rows),
        **_forms(found),
        **_what_became_of(found),
        **sent,
    }
    return render(request, "intake/animal.html", context, status=status)


def _pieces(found: Animal, rows: list[queries.PieceRow]) -> dict[str, Any]:
    """The pieces, how many of them are the body as it came, and their weight so far."""
    body = [row for row in rows if row.n is not None]
    weighed = [row.received_mg for row in body if row.received_mg is not None]
    in_pieces = found.arrived_as in IN_PIECES and not found.ended
    return {
        "pieces": rows,
        "body_count": len(body),
        "total_mg": sum(weighed) if weighed else None,
        "unweighed": len(body) - len(weighed),
        "so_far": bool(body) and body[-1].so_far,
        "brings_pieces": in_pieces,
        "arriving": in_pieces and (not body or body[-1].so_far),
    }


def _forms(found: Animal) -> dict[str, Any]:
    return {
        "tag_form": TagForm(animal=found, auto_id="tag_%s"),
        "filed_form": FiledForm(initial={"where": found.tag_filed_at}, auto_id="filed_%s"),
        "piece_form": PieceAddForm(animal=found, auto_id="piece_%s"),
        "weigh_form": WeighOnlyForm(auto_id="weigh_%s"),
        "hold_form": HoldForm(auto_id="hold_%s"),
        "release_form": ReleaseForm(auto_id="release_%s"),
        "void_form": ReasonForm(auto_id="void_%s"),
        "end_form": EndForm(auto_id="end_%s"),
    }


def _what_became_of(found: Animal) -> dict[str, Any]:
    """For an animal that ended early: whether anything of it is here, and who has it or hauled it."""
    if found.ended not in ("refused", "spoiled"):
        return {}
    given_back = Release.objects.filter(event__animal=found, event__verb="hand_back_ended")
    return {
        "left": found.pieces.exclude(state__in=ENDED).exists(),
        "given_back": given_back.select_related("person", "event"),
        "hauled": found.events.filter(verb="haul_ended", outcome="ok").select_related("person"),
        "haul_form": HaulForm(auto_id="haul_%s"),
        "hand_back_form": HandBackForm(may=may_collect(found.order, brought=True), auto_id="back_%s"),
    }


def may_void(weighing: Weighing) -> bool:
    """Whether a weighing can be taken back: recorded alone, not voided yet, its job not finished, not cut since."""
    event = weighing.event
    if hasattr(event, "voided_by") or not (event.verb in VOIDABLE or event.verb in WEIGHED_ALONE):
        return False
    past = weighing.point == Point.RECEIVED and weighing.piece and weighing.piece.state not in AT_THE_DOOR
    past = past or (
        weighing.point == Point.AT_BLOCK and weighing.piece and weighing.piece.state != PieceState.TABLE
    )
    return not past and (event.run is None or event.run.closed_at is None)
