"""Filters and tags that every template has without loading them."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import uuid4

from django import template
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from shop import codes, weights
from shop.context import shop_settings

register = template.Library()

# (url name, words, roles)
NAVIGATION = (
    ("home", "Today", ("owner", "counter")),
    ("orders", "Orders", ("owner", "counter")),
    ("floor", "Floor", ("owner", "counter", "floor")),
    ("pickup", "Pickup", ("owner", "counter")),
    ("holds", "Holds", ("owner", "counter")),
    ("yields", "Where the pounds went", ("owner",)),
    ("register", "Register", ("owner", "counter")),
    ("people", "People", ("owner",)),
    ("devices", "Devices", ("owner",)),
)
NOTICE_OF_LEVEL = {"success": "good", "error": "refused", "warning": "hold"}
NOTICE_WORDS = {"good": "Done", "refused": "Not done", "already": "Already done", "hold": "Stop"}


@register.filter
def weight(mg: int | None, unit: str = "") -> str:
    """Milligrams in the shop's unit (or `unit`), one decimal: `48.2 lb`. None is `not weighed`."""
    if mg is None or mg == "":
        return "not weighed"
    return weights.format_mg(mg, unit or shop_settings().unit)


@register.filter
def money(cents: int | None) -> str:
    """Cents as dollars: `$1,012.50`. None is `no price`."""
    if cents is None or cents == "":
        return "no price"
    dollars, rest = divmod(abs(cents), 100)
    return f"{'-' if cents < 0 else ''}${dollars:,}.{rest:02d}"


@register.filter
def code(digits: str | None) -> str:
    """A ten-digit code as printed in large digits: `2 0000 0042 5`."""
    return codes.spaced(digits) if digits else ""


@register.filter
def ago_days(when: date | datetime | None) -> str:
    """Whole calendar days between `when` and today in the shop's zone: `today`, `3 days ago`, `in 2 days`."""
    if when is None or when == "":
        return ""
    day = timezone.localdate(when) if isinstance(when, datetime) else when
    days = (timezone.localdate() - day).days
    near = {0: "today", 1: "yesterday", -1: "tomorrow"}
    return near.get(days) or (f"{days} days ago" if days > 0 else f"in {-days} days")


@register.simple_tag
def sender_id() -> SafeString:
    """A hidden field with an id of this very form: sent twice, it gets the first answer again."""
    return format_html('<input type="hidden" name="sender_id" value="{}">', uuid4())


@register.inclusion_tag("shop/navigation.html", takes_context=True)
def navigation(context: template.Context) -> dict[str, Any]:
    """The links of this role, the current one marked. Names without a page yet are left out."""
    request = context.get("request")
    role = context.get("role", "")
    path = request.path if request else ""
    entries = []
    for name, words, allowed in NAVIGATION:
        url = _url(name) if role in allowed else ""
        if url:
            entries.append(
                {"url": url, "words": words, "current": path == url or (url != "/" and path.startswith(url))}
            )
    return {"entries": entries}


@register.simple_tag(takes_context=True)
def start_url(context: template.Context) -> str:
    """The first page of this role."""
    return (context.get("role") == "floor" and _url("floor")) or "/"


@register.inclusion_tag("shop/notice.html")
def notice(kind: str, text: Any, words: str = "") -> dict[str, Any]:
    """A banner with shape and words: kind `good`, `refused`, `already` or `hold`, or a message's level."""
    kind = NOTICE_OF_LEVEL.get(kind, kind)
    kind = kind if kind in NOTICE_WORDS else "already"
    return {"kind": kind, "words": words or NOTICE_WORDS[kind], "text": text}


def _url(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""
