"""What the scan box finds: a code, an order number, a badge, and for counter and owner a hunter, a phone, a tag."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from orders.intake.facts import search_form
from orders.intake.models import Animal, Order, Season
from orders.ledger.models import Piece, Run
from shop.codes import KIND_WORDS, CodeError, Kind, read_code
from shop.models import Person, Place, Role, Station

MOST = 50
LONGEST = 80
BADGE_LENGTH = 12
LEAST_PHONE_DIGITS = 4
# 26-0147, 147, 26-0147/2: season, number, animal. Nine digits at most: longer ones are codes or phones.
_NUMBER = re.compile(r"^(?:(?P<short>[^\s/-]{1,4})-)?0*(?P<seq>\d{1,9})(?:/(?P<n>\d{1,2}))?$")


@dataclass(slots=True)
class Found:
    """One address to go to, or orders to choose from, or a sentence saying why there is neither.

    `url` and `orders` together: a phone number that happens to be a code as well.
    """

    url: str = ""
    orders: list[Order] = field(default_factory=list)
    sentence: str = ""


def find(typed: str, role: str) -> Found:
    """Look up what was scanned or typed. The floor finds codes and order numbers, and lands on the trail."""
    text = " ".join(typed.replace("\x00", " ").split())[:LONGEST]
    if not text:
        return Found(sentence="Scan a tag, or type an order number.")
    digits = text.replace(" ", "").replace("-", "")
    if digits.isascii() and digits.isdigit() and len(digits) == BADGE_LENGTH:
        return _badge(digits, role)
    by_code = _by_code(text) if len(digits) == 10 and digits.isdigit() else Found()
    orders = _by_number(text)
    if role != Role.FLOOR:
        orders += [order for order in _by_words(text) if order not in orders]
    if by_code.url:
        found = _to_order(by_code, role)
        return Found(url=found.url, orders=[order for order in orders if order not in by_code.orders][:MOST])
    if len(orders) == 1:
        return Found(url=_order_url(orders[0], _NUMBER.match(text), role))
    if orders:
        return Found(orders=orders[:MOST])
    return Found(sentence=by_code.sentence or _nothing(text, role))


def _nothing(text: str, role: str) -> str:
    if role == Role.FLOOR:
        return f"Nothing here has the code or the order number “{text}”."
    return f"No code, order number, hunter, phone or tag matches “{text}”."


# --- codes -----------------------------------------------------------------------------------------------------


def _by_code(text: str) -> Found:
    try:
        kind, code = read_code(text)
    except CodeError as error:
        return Found(sentence=str(error))
    if kind == Kind.ORDER:
        order = Order.objects.filter(code=code).first()
        return Found(url=trail_url(code), orders=[order]) if order else _unknown(kind)
    if kind in (Kind.PIECE, Kind.LUG, Kind.PACKAGE, Kind.BOX):
        piece = Piece.objects.filter(code=code).select_related("animal__order", "order").first()
        return Found(url=trail_url(code), orders=_owner(piece)) if piece else _unknown(kind)
    if kind == Kind.RUN:
        run = Run.objects.filter(code=code).select_related("animal__order", "order").first()
        return Found(url=trail_url(code), orders=_owner(run)) if run else _unknown(kind)
    model = Place if kind == Kind.PLACE else Station
    return Found(url=trail_url(code)) if model.objects.filter(code=code).exists() else _unknown(kind)


def _owner(thing: Piece | Run) -> list[Order]:
    order = thing.animal.order if thing.animal else thing.order
    return [order] if order else []


def _unknown(kind: Kind) -> Found:
    return Found(sentence=f"This is the code of a {KIND_WORDS[kind]}, but this shop has none with it.")


def trail_url(code: str) -> str:
    """The page that follows a code up and down."""
    return reverse("trail", args=[code])


def _to_order(found: Found, role: str) -> Found:
    """An order's own code opens the order for those who have that page, and its trail for the floor."""
    if role != Role.FLOOR and found.orders and found.url == trail_url(found.orders[0].code):
        return Found(url=reverse("order", args=[found.orders[0].number]))
    return found


def _badge(digits: str, role: str) -> Found:
    person = Person.objects.filter(badge=digits).first()
    if person is None:
        return Found(sentence="This badge belongs to nobody here.")
    if role == Role.OWNER:
        return Found(url=reverse("person", args=[person.pk]))
    return Found(url=reverse("who"))


# --- order numbers ---------------------------------------------------------------------------------------------


def _by_number(text: str) -> list[Order]:
    match = _NUMBER.match(text)
    if match is None or int(match["seq"]) > 2_000_000_000:
        return []
    found = Order.objects.filter(seq=int(match["seq"])).select_related("hunter", "season")
    if match["short"]:
        return list(found.filter(season__short__iexact=match["short"]))
    today = timezone.localdate()
    current = (
        Season.objects.filter(starts_on__lte=today, ends_on__gte=today).first() or Season.objects.first()
    )
    of_now = found.filter(season=current)
    return list(of_now or found.order_by("-id")[:MOST])


def _order_url(order: Order, match: re.Match[str] | None, role: str) -> str:
    if role == Role.FLOOR:
        return trail_url(order.code)
    if match and match["n"]:
        animal = Animal.objects.filter(order=order, n=int(match["n"])).first()
        if animal is not None:
            return reverse("animal", args=[animal.pk])
    return reverse("order", args=[order.number])


# --- words -----------------------------------------------------------------------------------------------------


def _by_words(text: str) -> list[Order]:
    """Orders by hunter, taker, who dropped off or may collect, phone digits, tag or sample number; newest first."""
    name = search_form(text)
    digits = "".join(letter for letter in text if letter.isascii() and letter.isdigit())
    wanted = Q(animals__tag_no__iexact=text) | Q(animals__sample_no__iexact=text)
    if any(letter.isalpha() for letter in name):
        wanted |= Q(hunter__search__contains=name) | Q(animals__taker__search__contains=name)
        wanted |= Q(dropped_off_by__icontains=text) | Q(may_collect__icontains=text)
    elif len(digits) >= LEAST_PHONE_DIGITS:
        wanted |= Q(hunter__phone__contains=digits.removeprefix("1") if len(digits) == 11 else digits)
    keys = Order.objects.filter(wanted).order_by("-id").values_list("pk", flat=True).distinct()[:MOST]
    return list(Order.objects.filter(pk__in=list(keys)).select_related("hunter", "season").order_by("-id"))
