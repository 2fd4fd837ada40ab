"""The yield figures as a table: what is published, what the shop uses, and where it comes from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders.cutsheets.words import percent, percent_figure
from orders.yields.figures import share_of
from shop.models import YieldFigure
from shop.tables import HouseTable

EVERY = "Every species"
WORDS = {
    "dressed_on_of_live": "Field-dressed, feet on, of the live weight",
    "hanging_of_dressed_on": "Skinned carcass, of field-dressed with the feet on",
    "hanging_of_dressed_off": "Skinned carcass, of field-dressed with the feet off",
    "lean_of_hanging": "Boneless lean, of the skinned carcass",
    "lean_of_quarters": "Boneless lean, of bone-in pieces",
    "boneless_kept": "Left after cleaning up, of boneless meat received",
    "shot_loss": "Shot loss, average of all shots",
    "remaining_shot": "Of the shot loss, found at the block after bloodshot was cut off",
    "bloodshot_meat": "Meat in what is cut off as bloodshot",
    "first_chill": "First chill, of the warm carcass",
    "drying_per_day": "Drying on each further day",
    "drying_meat": "Meat in what dries off a carcass",
    "shot_at_": "Shot at the {region}, of the average shot loss",
    "part_share": "{part}, of the boneless lean",
}


def words_of(figure: YieldFigure) -> str:
    """What a figure is of, with its class: `Boneless lean, of the skinned carcass (male, adult)`."""
    if figure.part is not None:
        said = WORDS["part_share"].format(part=figure.part.name)
    elif figure.quantity.startswith("shot_at_"):
        said = WORDS["shot_at_"].format(region=figure.quantity.removeprefix("shot_at_"))
    else:
        said = WORDS.get(figure.quantity, figure.quantity)
    kinds = ", ".join(filter(None, (figure.sex, figure.age_class)))
    return f"{said} ({kinds})" if kinds else said


def range_words(low_bp: int, likely_bp: int, high_bp: int) -> str:
    """A figure with its range: `57.29 % (50.8 to 63.2)`."""
    return f"{percent(likely_bp)} ({percent_figure(low_bp)} to {percent_figure(high_bp)})"


def used_words(figure: YieldFigure) -> str:
    """Which value is used, in a word or two."""
    if figure.override_bp is not None:
        return "the shop’s own"
    if figure.lent_by:
        return f"borrowed: {figure.lent_by}"
    return "common practice" if figure.grade == "practice" else "published"


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One line. Shares in basis points, for sorting; the words beside them are what is shown."""

    pk: int
    species: str
    what: str
    published: int
    published_words: str
    own: int | None
    own_words: str
    used: str
    n: str
    source: str


def row_of(figure: YieldFigure) -> FigureRow:
    """A figure as a line; needs its species and part at hand."""
    own = share_of(figure) if figure.override_bp is not None else None
    return FigureRow(
        pk=figure.pk,
        species=figure.species.name if figure.species else EVERY,
        what=words_of(figure),
        published=figure.likely_bp,
        published_words=range_words(figure.low_bp, figure.likely_bp, figure.high_bp),
        own=own.likely_bp if own else None,
        own_words=range_words(*own.bounds_bp) if own else "",
        used=used_words(figure),
        n=figure.n,
        source=figure.source,
    )


class FigureTable(HouseTable):
    """On the screen the value that is used stands with its range; the file has a column for each."""

    species = tables.Column(verbose_name="Species")
    what = tables.Column(verbose_name="Figure")
    published = tables.Column(verbose_name="Likely (low to high)")
    own = tables.Column(verbose_name="The shop’s own", visible=False)
    used = tables.Column(verbose_name="Used", visible=False)
    n = tables.Column(verbose_name="Animals", visible=False)
    source = tables.Column(verbose_name="Source", orderable=False, attrs={"td": {"class": "small"}})

    class Meta:
        empty_text = "No figure like that."

    exportable = True
    caption = "Yield figures"

    def __init__(self, rows: Sequence[FigureRow], **kwargs: Any) -> None:
        super().__init__(rows, **kwargs)

    def render_what(self, value: str, record: FigureRow) -> SafeString:
        return format_html('<a href="{}">{}</a>', reverse("yield-figure", args=[record.pk]), value)

    def value_what(self, value: str) -> str:
        return value

    def render_published(self, record: FigureRow) -> SafeString:
        if record.own is None:
            return format_html('{}<br><span class="soft">{}</span>', record.published_words, record.used)
        return format_html(
            '{}<br><span class="state good">{}</span> <span class="soft">published {}</span>',
            record.own_words,
            record.used,
            record.published_words,
        )

    def value_published(self, record: FigureRow) -> str:
        return record.published_words

    def value_own(self, record: FigureRow) -> str:
        return record.own_words

    def render_source(self, value: str, record: FigureRow) -> str:
        return f"{value} ({record.n} animal{'' if record.n == '1' else 's'})" if record.n else value

    def value_source(self, value: str) -> str:
        return value
