"""What all papers share: the shop, days and times as they are printed, weights as they were read."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format

from orders.intake.models import Animal, Order
from orders.ledger.models import Weighing
from shop.context import shop_settings
from shop.weights import Reading, format_mg

# Stands where a name was never written down, so that a label is never without one.
UNNAMED = "(no name yet)"
NO_TAG = "tag missing"
PHONE_ON_FILE = "phone on file"


def shop_values() -> dict[str, str]:
    """Name and address as they are printed."""
    shop = shop_settings()
    return {"shop": shop.name, "shop_address": ", ".join(part for part in (shop.address, shop.town) if part)}


def day(moment: datetime | date) -> str:
    """`Nov 14, 2026`, in the shop's zone."""
    return date_format(timezone.localtime(moment) if isinstance(moment, datetime) else moment, "M j, Y")


def day_time(moment: datetime) -> str:
    """`Sat Nov 14, 2026, 9:42 am`, in the shop's zone."""
    return (
        date_format(timezone.localtime(moment), "D M j, Y, g:i a").replace("a.m.", "am").replace("p.m.", "pm")
    )


def capital(words: str) -> str:
    """The words with a capital first letter, and nothing else changed."""
    return words[:1].upper() + words[1:]


def hunter_of(order: Order) -> str:
    return order.hunter.name if order.hunter else UNNAMED


def owner_of(animal: Animal) -> str:
    """The taker, whose animal it is in law; the order's hunter where none is written down."""
    return animal.taker.name if animal.taker else hunter_of(animal.order)


def tag_of(animal: Animal) -> str:
    """The tag number, the reason there is none, or words saying that it is missing."""
    return animal.tag_no or str(animal.no_tag_reason or NO_TAG)


def species_of(animal: Animal) -> str:
    """`White-tailed deer, male`; birds with their number."""
    if animal.species.is_bird:
        return f"{animal.species.name}, {animal.bird_count or 1}"
    sex = "" if animal.sex == "unknown" else f", {animal.get_sex_display().lower()}"
    return f"{animal.species.name}{sex}"


def weight_text(mg: int | None) -> str:
    """Milligrams in the shop's unit, or `not weighed`."""
    return "not weighed" if mg is None else format_mg(mg, shop_settings().unit)


def reading_text(weighing: Weighing | None) -> str:
    """A weighing as the scale showed it, net; empty where there is none."""
    if weighing is None:
        return ""
    net = str(Reading(weighing.net, weighing.unit, weighing.decimals))
    return f"nominal {net}" if weighing.nominal else net


def order_values(order: Order) -> dict[str, Any]:
    return {"order": order.number, "code": order.code}
