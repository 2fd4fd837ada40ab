"""A weighing in a template, as the scale showed it."""

from __future__ import annotations

from django import template

from orders.ledger.models import Weighing
from shop.weights import Reading

register = template.Library()


@register.filter
def reading(weighing: Weighing | None) -> str:
    """The net weight with the unit and decimals it was read in: `1.12 lb`. None is `not weighed`."""
    if not weighing:
        return "not weighed"
    return str(Reading(weighing.net, weighing.unit, weighing.decimals))
