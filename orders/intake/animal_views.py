"""One animal at the counter: taken in, corrected, weighed, held, ended."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods, require_safe

from orders.http import carry_out, counter_form
from orders.intake.actions import (
    add_animal,
    all_pieces_in,
    bring_piece,
    correct_animal,
    end_animal,
    file_tag,
    record_tag,
    weigh_received,
)
from orders.intake.animal_forms import AnimalAddForm, AnimalEditForm
from orders.intake.animal_page import animal_page, find_animal
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
from orders.intake.models import Animal, Order
from orders.intake.views import animal_url
from orders.ledger.entry import Answer
from orders.ledger.holds import open_hold, release_hold
from orders.ledger.models import Event, Hold, Piece
from orders.ledger.voids import void_event, void_piece
from shop.access import ShopRequest, roles
from shop.models import Species

LONGEST_ID = 15


@roles("owner", "counter")
@require_http_methods(["GET", "HEAD", "POST"])
def animal_add(request: ShopRequest, number: str) -> HttpResponseBase:
    """Take an animal in: its species first, then what is asked of that species."""
    order = get_object_or_404(Order.objects.select_related("hunter"), number=number)
    chosen = _species(request)
    if request.method != "POST" and chosen is None:
        species = Species.objects.all()
        return render(request, "intake/animal_species.html", {"order": order, "species": species})
    form = AnimalAddForm(request.POST if request.method == "POST" else None, order=order, chosen=chosen)

    def page() -> HttpResponseBase:
        context = {"order": order, "form": form, "species": chosen}
        return render(request, "intake/animal_add.html", context, status=422 if form.errors else 200)

    def its_page(answer: Answer) -> str:
        return animal_url(answer.fetch(Animal))

    if request.method != "POST":
        return page()
    return carry_out(request, form, add_animal, order, done=its_page, again=page, facts=form.for_action)


def _species(request: HttpRequest) -> Species | None:
    """The species of the form that was sent, or that the address asks for; None where there is none like that."""
    if request.method != "POST":
        return Species.objects.filter(code=request.GET.get("species", "").replace("\0", "")).first()
    sent = request.POST.get("species", "")
    is_id = sent.isascii() and sent.isdigit() and len(sent) <= LONGEST_ID
    return Species.objects.filter(pk=sent).first() if is_id else None


@roles("owner", "counter")
@require_safe
def animal(request: ShopRequest, pk: int) -> HttpResponseBase:
    """One animal: what is known, its pieces and weights, its holds, what was done."""
    return animal_page(request, find_animal(pk))


@roles("owner", "counter")
@require_http_methods(["GET", "HEAD", "POST"])
def animal_edit(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Correct or complete what is written about an animal."""
    found = find_animal(pk)
    form = AnimalEditForm(request.POST if request.method == "POST" else None, animal=found)

    def page() -> HttpResponseBase:
        refusal = getattr(request, "refusal", None)
        if refusal is not None and refusal.code == "changed_meanwhile":
            form.look_again(refusal.field, find_animal(pk))
        context = {"animal": found, "order": found.order, "form": form}
        return render(request, "intake/animal_edit.html", context, status=422 if form.errors else 200)

    if request.method != "POST":
        return page()
    done = animal_url(found)
    return carry_out(request, form, correct_animal, found, done=done, again=page, facts=form.for_action)


def answer_animal(
    request: HttpRequest,
    found: Animal,
    name: str,
    form: forms.Form,
    act: Callable[..., Answer],
    subject: Animal | Piece | Event | Hold,
    *,
    facts: Callable[[], dict[str, Any]] | None = None,
    **beside: Any,
) -> HttpResponseBase:
    """Do what a form of the animal's page asks, and show the page from its top, where the notice is."""

    def again() -> HttpResponseBase:
        return animal_page(request, find_animal(found.pk), status=422, **{f"{name}_form": form}, **beside)

    return carry_out(request, form, act, subject, done=animal_url(found), again=again, facts=facts)


@counter_form
def animal_tag(request: ShopRequest, pk: int) -> HttpResponseBase:
    """The tag, or the reason that the shop's rules allow."""
    found = find_animal(pk)
    form = TagForm(request.POST, animal=found, auto_id="tag_%s")
    return answer_animal(request, found, "tag", form, record_tag, found)


@counter_form
def animal_tag_filed(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Where the state tag is kept once it is off."""
    found = find_animal(pk)
    return answer_animal(
        request, found, "filed", FiledForm(request.POST, auto_id="filed_%s"), file_tag, found
    )


@counter_form
def animal_piece(request: ShopRequest, pk: int) -> HttpResponseBase:
    """One more piece of it: form, weight, place."""
    found = find_animal(pk)
    form = PieceAddForm(request.POST, animal=found, auto_id="piece_%s")
    return answer_animal(request, found, "piece", form, bring_piece, found, facts=form.for_action)


@counter_form
def animal_pieces_in(request: ShopRequest, pk: int) -> HttpResponseBase:
    """All pieces of it are in."""
    found = find_animal(pk)
    return answer_animal(request, found, "pieces_in", forms.Form(request.POST), all_pieces_in, found)


@counter_form
def piece_weigh(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Weigh a piece that was not weighed when it came in."""
    piece, found = _piece(pk)
    form = WeighOnlyForm(request.POST, auto_id="weigh_%s")
    return answer_animal(
        request, found, "weigh", form, weigh_received, piece, facts=form.for_action, weigh_piece=piece
    )


@counter_form
def piece_void(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Take back a quarter, a bag or a kept part that was written down by mistake, with the reason."""
    piece, found = _piece(pk)
    form = ReasonForm(request.POST, auto_id="mistake_%s")
    return answer_animal(request, found, "mistake", form, void_piece, piece, mistake_piece=piece)


def _piece(pk: int) -> tuple[Piece, Animal]:
    piece = get_object_or_404(Piece.objects.exclude(animal=None), pk=pk)
    return piece, find_animal(piece.animal_id or 0)


@counter_form
def event_void(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Take a weight back, with the reason."""
    event = get_object_or_404(Event.objects.exclude(animal=None), pk=pk)
    form = ReasonForm(request.POST, auto_id="void_%s")
    return answer_animal(
        request, find_animal(event.animal_id or 0), "void", form, void_event, event, void_of=event
    )


@counter_form
def hold_open(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Put an animal on hold."""
    found = find_animal(pk)
    return answer_animal(request, found, "hold", HoldForm(request.POST, auto_id="hold_%s"), open_hold, found)


@counter_form
def hold_release(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Release a hold, with the reason."""
    hold = get_object_or_404(Hold, pk=pk)
    form = ReleaseForm(request.POST, auto_id="release_%s")
    found = find_animal(hold.animal_id)
    return answer_animal(request, found, "release", form, release_hold, hold, release_of=hold)


@counter_form
def animal_end(request: ShopRequest, pk: int) -> HttpResponseBase:
    """End an animal early: refused, spoiled, or written down by mistake."""
    found = find_animal(pk)
    return answer_animal(request, found, "end", EndForm(request.POST, auto_id="end_%s"), end_animal, found)
