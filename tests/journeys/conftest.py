"""A real Chromium on a real server. A page that logs an error or breaks its content policy fails the journey."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from orders.intake.models import Season
from shop.models import Person, Role
from shop.signin import hashed_pin
from tests.conftest import People, Places
from tests.journeys.steps import PIN, Shop, settled

# The browser's driver runs an event loop in this thread; the database is used from it between two clicks only.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

expect.set_options(timeout=10_000)

TABLET = {"width": 1280, "height": 800}
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"]
# A refused form answers 422, a page that is not there 404: the browser logs both, and both are asked for.
EXPECTED_LOGS = ("status of 422", "status of 404", "status of 403", "ERR_INTERNET_DISCONNECTED")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "journeys" in str(item.path):
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    assert path, "Chromium is not installed: on Debian, apt install chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def open_page(
    chromium: Browser, live_server: Any, request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[Callable[..., Page]]:
    """`open_page()` gives a page in a browser of its own; on a failure each page is photographed."""
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def make(**options: Any) -> Page:
        context = chromium.new_context(base_url=live_server.url, viewport=TABLET, **options)
        context.set_default_timeout(10_000)
        contexts.append(context)
        page = context.new_page()
        _go_only_when_all_is_sent(page)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda message: (
                complaints.append(message.text)
                if message.type == "error" and not any(text in message.text for text in EXPECTED_LOGS)
                else None
            ),
        )
        return page

    yield make
    failed = getattr(request.node, "failed_in_call", False)
    for number, context in enumerate(contexts):
        for page in context.pages:
            if failed:
                page.screenshot(path=tmp_path / f"page-{number}.png", full_page=True)
                print(f"picture of the failure: {tmp_path}/page-{number}.png at {page.url}")  # noqa: T201
        context.close()
    assert complaints == []


def _go_only_when_all_is_sent(page: Page) -> None:
    """An address is opened once the form that was tapped before is answered, as a person waits for it."""
    go = page.goto

    def goto(address: str, **options: Any) -> Any:
        settled(page)
        return go(address, **options)

    page.goto = goto  # type: ignore[method-assign,assignment]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Any:
    report = yield
    if report.when == "call":
        item.failed_in_call = report.failed  # type: ignore[attr-defined]
    return report


@pytest.fixture
def crew(transactional_db: None, catalog: None, people: People, places: Places, season: Season) -> None:
    """The shop as it stands before the first animal: its people with PINs, its stations, places and season."""
    people.cutter.pin = hashed_pin(PIN)
    people.cutter.save(update_fields=["pin"])
    Person.objects.create_user(
        "bea", first_name="Bea", last_name="Hollow", role=Role.FLOOR, pin=hashed_pin(PIN)
    )


@pytest.fixture
def shop(crew: None, open_page: Callable[..., Page], places: Places) -> Shop:
    """Browsers of that shop: an office PC for whoever logs in, and tablets that the owner enrolls."""
    return Shop(open_page, places)
