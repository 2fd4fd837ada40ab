"""One animal at the counter: taken in, corrected, weighed, held, ended."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.cutsheets.queries import current_sheet
from orders.http import attempt
from orders.intake import queries
from orders.intake.actions import (
    add_animal,
    bring_piece,
    correct_animal,
    end_animal,
    file_tag,
    record_tag,
    weigh_received,
)
from orders.intake.animal_forms import AnimalAddForm, AnimalEditForm
from orders.intake.cautions import DECIDE, DISEASE_TEST, TENDERLOINS, cautions
from orders.intake.forms import (
    EndForm,
    FiledForm,
    HoldForm,
    PieceAddForm,
    ReasonForm,
    ReleaseForm,
    TagForm,
    WeighOnlyForm,
    brings_pieces,
)
from orders.intake.models import Animal, Order, Region
from orders.intake.owed import animal_owes
from orders.intake.views import HISTORY_SHOWN, animal_url
from orders.ledger.holds import open_hold, release_hold
from orders.ledger.models import ENDED, Event, Hold, Piece, Point, Weighing
from orders.ledger.voids import AT_THE_DOOR, VOIDABLE, void_event, void_piece
from orders.pickup.forms import HandBackForm, HaulForm
from orders.pickup.models import Release
from shop.access import ShopRequest, roles

WEIGHED_ALONE = ("add_animal", "bring_piece")


def _animal(pk: int) -> Animal:
    known = Animal.objects.select_related("order__hunter", "species", "no_tag_reason", "taker")
    return get_object_or_404(known, pk=pk)


@roles("owner", "counter")
@require_http_methods(["GET", "HEAD", "POST"])
def animal_add(request: ShopRequest, number: str) -> HttpResponseBase:
    """Take an animal in."""
    order = get_object_or_404(Order.objects.select_related("hunter"), number=number)
    form = AnimalAddForm(request.POST if request.method == "POST" else None, order=order)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        answer = attempt(
            request,
            add_animal,
            order,
            form=form,
            at_counter=True,
            species=typed["species"],
            arrived_as=typed["arrived_as"],
            facts=form.facts(),
            place=typed["place"],
            tag_no=typed["tag_no"],
            no_tag_reason=typed["no_tag_reason"],
            weight=form.on_scale,
        )
        if answer is not None:
            return redirect(animal_url(answer.fetch(Animal), "pieces"))
    context = {"order": order, "form": form, "disease_caution": f"{DISEASE_TEST} {DECIDE}", **CAUTIONS}
    return render(request, "intake/animal_add.html", context, status=422 if form.errors else 200)


CAUTIONS = {"tenderloin_caution": f"{TENDERLOINS} {DECIDE}"}


@roles("owner", "counter")
@require_safe
def animal(request: ShopRequest, pk: int) -> HttpResponseBase:
    """One animal: what is known, its pieces and weights, its holds, what was done."""
    return animal_page(request, _animal(pk))


def animal_page(request: HttpRequest, found: Animal, *, status: int = 200, **bound: Any) -> HttpResponseBase:
    """The animal's page, with forms that were refused in `bound`."""
    rows = queries.piece_rows([found])[found.pk]
    sheet = current_sheet(found)
    body = [row for row in rows if row.n is not None]
    weighed = [row.received_mg for row in body if row.received_mg is not None]
    limit = None if request.GET.get("history") == "all" else HISTORY_SHOWN
    events = queries.history(found.order, found, limit=limit and limit + 1)
    initial = {"place": request.GET["place"]} if request.GET.get("place", "").isdigit() else {}
    context = {
        "animal": found,
        "order": found.order,
        "regions": [Region(region).label for region in found.regions_hit],
        "pieces": rows,
        "body_count": len(body),
        "total_mg": sum(weighed) if weighed else None,
        "unweighed": len(body) - len(weighed),
        "brings_pieces": brings_pieces(found),
        "runs": found.runs.select_related("station", "opened_by").order_by("id"),
        "sheet": sheet,
        "owed": animal_owes(found, rows, has_sheet=sheet is not None),
        "cautions": cautions(found, ((row.piece.kind, row.piece.state) for row in rows)),
        "decide": DECIDE,
        "holds": found.holds.select_related("opened_by", "released_by"),
        "weighings": [(row, may_void(row)) for row in queries.weighings(found)],
        "events": events[:limit],
        "more_events": limit is not None and len(events) > limit,
        "tag_form": TagForm(animal=found, auto_id="tag_%s"),
        "filed_form": FiledForm(initial={"where": found.tag_filed_at}, auto_id="filed_%s"),
        "piece_form": PieceAddForm(animal=found, initial=initial, auto_id="piece_%s"),
        "weigh_form": WeighOnlyForm(auto_id="weigh_%s"),
        "hold_form": HoldForm(auto_id="hold_%s"),
        "release_form": ReleaseForm(auto_id="release_%s"),
        "void_form": ReasonForm(auto_id="void_%s"),
        "end_form": EndForm(auto_id="end_%s"),
        **_what_became_of(found),
        **bound,
    }
    return render(request, "intake/animal.html", context, status=status)


def _what_became_of(found: Animal) -> dict[str, Any]:
    """For an animal that ended early: whether anything of it is here, and who has it or hauled it."""
    if found.ended not in ("refused", "spoiled"):
        return {}
    given_back = Release.objects.filter(event__animal=found, event__verb="hand_back_ended")
    return {
        "left": found.pieces.exclude(state__in=ENDED).exists(),
        "given_back": given_back.select_related("person"),
        "hauled": found.events.filter(verb="haul_ended", outcome="ok").select_related("person"),
        "haul_form": HaulForm(auto_id="haul_%s"),
        "hand_back_form": HandBackForm(auto_id="back_%s"),
    }


def may_void(weighing: Weighing) -> bool:
    """Whether a weighing can be taken back: recorded alone, not voided yet, its job not finished, not cut since."""
    event = weighing.event
    if hasattr(event, "voided_by") or not (event.verb in VOIDABLE or event.verb in WEIGHED_ALONE):
        return False
    past = weighing.point == Point.RECEIVED and weighing.piece and weighing.piece.state not in AT_THE_DOOR
    return not past and (event.run is None or event.run.closed_at is None)


@roles("owner", "counter")
@require_http_methods(["GET", "HEAD", "POST"])
def animal_edit(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Correct or complete what is written about an animal."""
    found = _animal(pk)
    form = AnimalEditForm(request.POST if request.method == "POST" else None, animal=found)
    if (
        request.method == "POST"
        and form.is_valid()
        and attempt(request, correct_animal, found, form=form, at_counter=True, facts=form.facts())
    ):
        return redirect(animal_url(found))
    context = {"animal": found, "order": found.order, "form": form, "arrived_as": found.arrived_as}
    context |= {"disease_caution": f"{DISEASE_TEST} {DECIDE}", **CAUTIONS}
    return render(request, "intake/animal_edit.html", context, status=422 if form.errors else 200)


@roles("owner", "counter")
@require_POST
def animal_tag(request: ShopRequest, pk: int) -> HttpResponseBase:
    """The tag, or the reason that the shop's rules allow."""
    found = _animal(pk)
    form = TagForm(request.POST, auto_id="tag_%s")
    if form.is_valid() and attempt(
        request, record_tag, found, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect(animal_url(found))
    return animal_page(request, _animal(pk), status=422, tag_form=form)


@roles("owner", "counter")
@require_POST
def animal_tag_filed(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Where the state tag is kept once it is off."""
    found = _animal(pk)
    form = FiledForm(request.POST, auto_id="filed_%s")
    if form.is_valid() and attempt(request, file_tag, found, form=form, at_counter=True, **form.cleaned_data):
        return redirect(animal_url(found))
    return animal_page(request, _animal(pk), status=422, filed_form=form)


@roles("owner", "counter")
@require_POST
def animal_piece(request: ShopRequest, pk: int) -> HttpResponseBase:
    """One more piece of it: form, weight, place; the place stays for the next one."""
    found = _animal(pk)
    form = PieceAddForm(request.POST, animal=found, auto_id="piece_%s")
    if form.is_valid():
        facts = {"form": form.cleaned_data["form"], "place": form.cleaned_data["place"]}
        answer = attempt_piece(request, found, form, facts)
        if answer is not None:
            return redirect(animal_url(found, "pieces", place=facts["place"].pk))
    return animal_page(request, _animal(pk), status=422, piece_form=form)


def attempt_piece(request: ShopRequest, found: Animal, form: PieceAddForm, facts: dict[str, Any]) -> Any:
    """`bring_piece` has a fact called `form`, which `attempt` wants for the form that was sent."""

    def bring(subject: Animal, **known: Any) -> Any:
        return bring_piece(subject, **facts, weight=form.on_scale, **known)

    return attempt(request, bring, found, form=form, at_counter=True)


@roles("owner", "counter")
@require_POST
def piece_weigh(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Weigh a piece that was not weighed when it came in."""
    piece = get_object_or_404(Piece.objects.exclude(animal=None), pk=pk)
    assert piece.animal_id is not None
    form = WeighOnlyForm(request.POST, auto_id="weigh_%s")
    if form.is_valid() and attempt(
        request, weigh_received, piece, form=form, at_counter=True, weight=form.on_scale
    ):
        return redirect(animal_url(_animal(piece.animal_id), "pieces"))
    return animal_page(request, _animal(piece.animal_id), status=422, weigh_form=form, weigh_piece=piece)


@roles("owner", "counter")
@require_POST
def piece_void(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Take back a quarter, a bag or a kept part that was written down by mistake, with the reason."""
    piece = get_object_or_404(Piece.objects.exclude(animal=None), pk=pk)
    assert piece.animal_id is not None
    form = ReasonForm(request.POST, auto_id="mistake_%s")
    if form.is_valid() and attempt(
        request, void_piece, piece, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect(animal_url(_animal(piece.animal_id), "pieces"))
    return animal_page(request, _animal(piece.animal_id), status=422, mistake_form=form, mistake_piece=piece)


@roles("owner", "counter")
@require_POST
def event_void(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Take a weight back, with the reason."""
    event = get_object_or_404(Event.objects.exclude(animal=None), pk=pk)
    assert event.animal_id is not None
    form = ReasonForm(request.POST, auto_id="void_%s")
    if form.is_valid() and attempt(
        request, void_event, event, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect(animal_url(_animal(event.animal_id), "weights"))
    return animal_page(request, _animal(event.animal_id), status=422, void_form=form, void_of=event)


@roles("owner", "counter")
@require_POST
def hold_open(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Put an animal on hold."""
    found = _animal(pk)
    form = HoldForm(request.POST, auto_id="hold_%s")
    if form.is_valid() and attempt(
        request, open_hold, found, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect(animal_url(found, "holds"))
    return animal_page(request, _animal(pk), status=422, hold_form=form)


@roles("owner", "counter")
@require_POST
def hold_release(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Release a hold, with the reason."""
    hold = get_object_or_404(Hold.objects.select_related("animal__order"), pk=pk)
    form = ReleaseForm(request.POST, auto_id="release_%s")
    if form.is_valid() and attempt(
        request, release_hold, hold, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect(animal_url(hold.animal, "holds"))
    return animal_page(request, _animal(hold.animal_id), status=422, release_form=form, release_of=hold)


@roles("owner", "counter")
@require_POST
def animal_end(request: ShopRequest, pk: int) -> HttpResponseBase:
    """End an animal early: refused, spoiled, or written down by mistake."""
    found = _animal(pk)
    form = EndForm(request.POST, auto_id="end_%s")
    if form.is_valid() and attempt(
        request, end_animal, found, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect(animal_url(found))
    return animal_page(request, _animal(pk), status=422, end_form=form)
