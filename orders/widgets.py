"""Answers that are all in sight, as buttons to press."""

from __future__ import annotations

from typing import Any

from django import forms


class _FirstHasTheFocus:
    """Of many inputs of one question only the first opens with the page's focus: HTML allows one on a page."""

    def create_option(self, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option: dict[str, Any] = super().create_option(*args, **kwargs)  # type: ignore[misc]
        if option["index"] not in (0, "0"):
            option["attrs"].pop("autofocus", None)
        return option


class Radios(_FirstHasTheFocus, forms.RadioSelect):
    """One answer of several."""


class Ticks(_FirstHasTheFocus, forms.CheckboxSelectMultiple):
    """Several answers of several."""
