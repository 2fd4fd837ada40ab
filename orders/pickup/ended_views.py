"""What is left of an animal that was refused or spoiled: hauled away, or handed back."""

from __future__ import annotations

from django.http import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from orders.http import attempt
from orders.intake.animal_views import animal_page
from orders.intake.models import Animal
from orders.intake.views import animal_url
from orders.pickup.actions import hand_back_ended, haul_ended
from orders.pickup.forms import HandBackForm, HaulForm
from shop.access import ShopRequest, roles


def _animal(pk: int) -> Animal:
    known = Animal.objects.select_related("order__hunter", "species", "no_tag_reason", "taker")
    return get_object_or_404(known, pk=pk)


@roles("owner", "counter")
@require_POST
def animal_haul(request: ShopRequest, pk: int) -> HttpResponseBase:
    """It is hauled away, by whom or with which ticket."""
    found = _animal(pk)
    form = HaulForm(request.POST, auto_id="haul_%s")
    if form.is_valid() and attempt(
        request, haul_ended, found, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect(animal_url(found, "ended"))
    return animal_page(request, _animal(pk), status=422, haul_form=form)


@roles("owner", "counter")
@require_POST
def animal_hand_back(request: ShopRequest, pk: int) -> HttpResponseBase:
    """It goes back to a named person, whose initials are kept."""
    found = _animal(pk)
    form = HandBackForm(request.POST, auto_id="back_%s")
    if form.is_valid() and attempt(
        request, hand_back_ended, found, form=form, at_counter=True, **form.cleaned_data
    ):
        return redirect(animal_url(found, "ended"))
    return animal_page(request, _animal(pk), status=422, hand_back_form=form)
