"""Several designs in one file, each on pages of its own stock: everything of an order at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from labels.registry import DESIGNS, Printed
from labels.sheet import Sheet
from labels.stocks import STOCKS
from labels.values import LabelError, build


def render_bundle(parts: Sequence[tuple[str, Sequence[Mapping[str, Any]]]]) -> Printed:
    """One PDF of (design, values of its labels), in the order given, each on its design's first stock.

    Raises LabelError when a design is unknown, a value does not fit, or there is nothing to print.
    """
    sheet: Sheet | None = None
    pages, notes = 0, []
    for design, many in parts:
        if not many:
            continue
        known = DESIGNS.get(design)
        if known is None:
            raise LabelError(f"There is no label called “{design}”.")
        sheet = Sheet(STOCKS[known.stocks[0]], known.title, after=sheet)
        for values in many:
            known.draw(sheet, build(known.values, values, known.title))
        pages += sheet.pages
        notes += [note for note in sheet.notes if note not in notes]
    if sheet is None:
        raise LabelError("There is nothing to print.")
    return Printed(sheet.finish(), pages, tuple(notes))
