"""What is left of an animal that was refused or spoiled: hauled away, or handed back."""

from __future__ import annotations

from django.http import HttpResponseBase

from orders.http import counter_form
from orders.intake.animal_page import find_animal
from orders.intake.animal_views import answer_animal
from orders.pickup.actions import hand_back_ended, haul_ended
from orders.pickup.forms import HandBackForm, HaulForm
from orders.pickup.who import may_collect
from shop.access import ShopRequest


@counter_form
def animal_haul(request: ShopRequest, pk: int) -> HttpResponseBase:
    """It is hauled away, by whom or with which ticket."""
    found = find_animal(pk)
    return answer_animal(request, found, "haul", HaulForm(request.POST, auto_id="haul_%s"), haul_ended, found)


@counter_form
def animal_hand_back(request: ShopRequest, pk: int) -> HttpResponseBase:
    """It goes back to a named person, whose initials are kept."""
    found = find_animal(pk)
    form = HandBackForm(request.POST, may=may_collect(found.order, brought=True), auto_id="back_%s")
    return answer_animal(request, found, "hand_back", form, hand_back_ended, found)
