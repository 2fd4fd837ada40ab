"""What the papers' tables share: rows of which some are bold, whatever is written in them."""

from __future__ import annotations

from collections.abc import Sequence


class _Strong(str):
    """A cell that is printed bold, though another one may hold the same words."""

    __slots__ = ()


def strong(cells: Sequence[str]) -> tuple[str, ...]:
    """The cells of a row that is to be bold (see `is_strong`)."""
    return tuple(_Strong(cell) for cell in cells)


def is_strong(cell: str) -> bool:
    """Whether a cell is one of a bold row: for `Flow.table(bold=...)`."""
    return isinstance(cell, _Strong)
