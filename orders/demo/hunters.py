"""Invented hunters, some of whom come back."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from random import Random
from typing import Any

from django.conf import settings

from orders.intake.facts import HunterFacts, search_form

AREA_CODES = ("406", "307", "208", "701", "605")


@cache
def people() -> dict[str, Any]:
    """The names the demo draws from: fixtures/demo/people.json."""
    found: dict[str, Any] = json.loads((settings.FIXTURE_ROOT / "demo" / "people.json").read_text("utf-8"))
    return found


@cache
def prices() -> dict[str, Any]:
    """The demo shop's prices in cents: fixtures/demo/prices.json."""
    found: dict[str, Any] = json.loads((settings.FIXTURE_ROOT / "demo" / "prices.json").read_text("utf-8"))
    return found


@dataclass(frozen=True, slots=True)
class Hunter:
    """A hunter by a number of their own; the same number again is the same person."""

    n: int
    facts: HunterFacts


def hunter(n: int) -> Hunter:
    """The n-th hunter: name, telephone, address and license follow from the number alone."""
    rng = Random(f"hunter {n}")  # noqa: S311 - invented people, no secret
    source = people()
    firsts, lasts = source["first_names"], source["last_names"]
    name = f"{firsts[n % len(firsts)]} {lasts[(n * 7 + n // len(firsts)) % len(lasts)]}"
    mail = search_form(name).replace(" ", ".").replace("-", "")
    return Hunter(
        n,
        HunterFacts(
            name=name,
            phone=f"{AREA_CODES[n % len(AREA_CODES)]}-555-01{n // len(AREA_CODES) % 100:02d}",
            email=f"{mail}@example.com" if n % 3 == 0 else "",
            address=f"{rng.randint(2, 980)} {rng.choice(source['roads'])}, {rng.choice(source['towns'])}",
            license_no=f"L-{20_000 + n * 37}",
        ),
    )
