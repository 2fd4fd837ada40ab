"""Filters of the trail, the yields and the papers."""

from __future__ import annotations

from django import template

from orders.cutsheets.words import percent
from orders.yields.account import what_words
from orders.yields.tables import signed
from shop.context import shop_settings

register = template.Library()


@register.filter
def words(stable: str) -> str:
    """A stable word as a person reads it: `bone_fat` is `bone and fat`."""
    return what_words(stable)


register.filter("percent", percent)


@register.filter
def signed_weight(mg: int) -> str:
    """A difference of weights with its sign: `+2.1 lb`."""
    return signed(mg, shop_settings().unit)
