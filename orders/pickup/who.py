"""Who may collect an order: the hunter, who took its animals, and the names that were given at the counter."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from orders.intake.models import Order

BETWEEN = re.compile(r"[,;/&\n]|\s(?:and|or)\s", re.IGNORECASE)
# What stands beside a name: `Ines Vardal (wife), 555-0117`.
BESIDE = re.compile(r"\([^)]*\)?|\+?\d[\d\s().-]{4,}")
# `his brother` says who may come, but is nobody's name: that person's own is written down.
NO_NAME = {"a", "an", "any", "anybody", "anyone", "her", "his", "my", "our", "the", "their"}


def spoken(name: str) -> str:
    """A name as it sounds: accents, capitals and spaces make no difference, letters of any script do."""
    letters = (each for each in unicodedata.normalize("NFKD", name) if not unicodedata.combining(each))
    return " ".join("".join(letters).casefold().split())


@dataclass(frozen=True, slots=True)
class MayCollect:
    """Names as they are offered, and what was said of others without a name."""

    names: tuple[str, ...]
    described: tuple[str, ...] = ()

    def named(self, collector: str) -> str:
        """The name on the list that a collector's is, however it is written; empty where it is not on it."""
        key = spoken(collector)
        return next((name for name in self.names if spoken(name) == key), "")

    def __str__(self) -> str:
        return ", ".join([*self.names, *self.described]) or "nobody is written down"


def may_collect(order: Order, *, brought: bool = False) -> MayCollect:
    """Who may collect an order; with `brought`, who dropped it off too, as for what is refused at the door."""
    takers = order.animals.exclude(taker=None).order_by("n").values_list("taker__name", flat=True)
    said = [order.may_collect, order.dropped_off_by if brought else ""]
    entries = [" ".join(BESIDE.sub(" ", entry).split()) for each in said for entry in BETWEEN.split(each)]
    named = [entry for entry in entries if entry and entry.split()[0].lower() not in NO_NAME]
    names: dict[str, str] = {}
    for name in [*([order.hunter.name] if order.hunter else []), *takers, *named]:
        names.setdefault(spoken(name), name)
    described = [entry for entry in entries if entry and entry not in named]
    return MayCollect(tuple(names.values()), tuple(dict.fromkeys(described)))
