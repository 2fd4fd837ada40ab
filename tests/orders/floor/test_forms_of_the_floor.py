"""Every form of the floor lets the server speak, and no page takes the scanner's keys for itself."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

TEMPLATES = Path(__file__).resolve().parents[3] / "orders" / "templates" / "floor"
PAGES = sorted(TEMPLATES.glob("*.html"))


def test_there_are_pages_to_look_at() -> None:
    assert len(PAGES) > 15
    assert sum(path.read_text().count("<form") for path in PAGES) > 10


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_the_browser_s_own_bubble_is_never_shown(page: Path) -> None:
    assert [form for form in re.findall(r"<form[^>]*>", page.read_text()) if "novalidate" not in form] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_nothing_is_focused_at_the_start_and_nothing_drops_down(page: Path) -> None:
    text = page.read_text()
    assert "autofocus" not in text
    assert "<select" not in text
