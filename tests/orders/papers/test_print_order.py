"""Everything of an order in one file, made by the job loop."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from orders import printing
from orders.intake.models import Order
from shop import jobs
from shop.models import Job, JobState
from tests.orders.papers.test_papers import codes_on
from tests.scenario import Scenario


@pytest.fixture(autouse=True)
def print_root(settings: Any, tmp_path: Path) -> Path:
    settings.PRINT_ROOT = tmp_path / "print"
    return tmp_path / "print"


def test_the_job_makes_the_file_with_every_label(
    clerk_client: Client, scenario: Scenario, print_root: Path
) -> None:
    deer = scenario.deer()
    box = scenario.stored(deer)
    address = f"/print/order/{deer.order.number}/"
    assert "Nothing has been asked for yet." in clerk_client.get(address).content.decode()
    assert clerk_client.get(f"{address}file/").status_code == 404
    response = clerk_client.post(address, {"sender_id": str(uuid4())})
    assert (response.status_code, response.headers["Location"]) == (302, address)
    assert "Waiting for its turn." in clerk_client.get(address).content.decode()
    job = jobs.work_one()
    assert job is not None
    assert job.state == JobState.DONE, job.error
    assert "Ready: " in clerk_client.get(address).content.decode()
    response = clerk_client.get(f"{address}file/")
    pdf = b"".join(response.streaming_content)
    assert pdf == (print_root / "26-0001.pdf").read_bytes()
    found = codes_on(pdf)
    tagged = deer.pieces.filter(kind__in=["carcass", "tenderloin", "kept"])
    packs = [package.piece.code for package in deer.packages.all()]
    expected = {deer.order.code, box.code, *packs, *(piece.code for piece in tagged)}
    assert set(found) == expected
    assert [code for code in found if code in packs] == packs
    assert [path.name for path in print_root.iterdir()] == ["26-0001.pdf"]


def test_pages_keep_the_size_of_their_own_stock(scenario: Scenario) -> None:
    import pypdfium2

    from labels.bundle import render_bundle

    deer = scenario.deer()
    scenario.stored(deer)
    printed = render_bundle(printing.parts_of(Order.objects.get()))
    document = pypdfium2.PdfDocument(printed.pdf)
    try:
        sizes = [tuple(round(side / 72, 2) for side in page.get_size()) for page in document]
    finally:
        document.close()
    assert len(sizes) == printed.pages
    # claim slip; tags of carcass (two), tenderloin bag, antlers; cut sheet; 45 packs; box
    assert sizes == [(4, 6)] * 5 + [(8.5, 11)] + [(4, 3)] * 45 + [(4, 6)]


def test_the_same_form_twice_is_one_job(clerk_client: Client, scenario: Scenario) -> None:
    order = scenario.order()
    sender = str(uuid4())
    for _ in range(2):
        clerk_client.post(f"/print/order/{order.number}/", {"sender_id": sender})
    assert Job.objects.count() == 1
    other = scenario.order("Marit", "")
    assert clerk_client.post(f"/print/order/{other.number}/", {"sender_id": sender}).status_code == 422


def test_made_again_the_file_is_replaced_whole(scenario: Scenario, print_root: Path) -> None:
    order = scenario.order()
    printing.start(order)
    jobs.work_all()
    first = (print_root / "26-0001.pdf").read_bytes()
    scenario.deer(order)
    printing.start(order)
    jobs.work_all()
    assert (print_root / "26-0001.pdf").read_bytes() != first
    assert [job.state for job in Job.objects.all()] == ["done", "done"]


def test_what_cannot_be_printed_fails_with_its_sentence(
    clerk_client: Client, scenario: Scenario, monkeypatch: pytest.MonkeyPatch
) -> None:
    from labels.values import LabelError

    def refuse(parts: Any) -> Any:
        raise LabelError("The statements do not fit on this package label.")

    order = scenario.order()
    monkeypatch.setattr(printing, "render_bundle", refuse)
    job = printing.start(order)
    jobs.work_all()
    job.refresh_from_db()
    assert (job.state, job.tries) == ("failed", 1)
    text = clerk_client.get(f"/print/order/{order.number}/").content.decode()
    assert "Not made: The statements do not fit on this package label." in text


def test_a_fragment_is_enough_for_htmx(clerk_client: Client, scenario: Scenario) -> None:
    order = scenario.order()
    printing.start(order)
    text = clerk_client.get(f"/print/order/{order.number}/", headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in text
    assert 'hx-trigger="every 2s"' in text
    jobs.work_all()
    text = clerk_client.get(f"/print/order/{order.number}/", headers={"HX-Request": "true"}).content.decode()
    assert "hx-get" not in text
    assert "Open the file" in text
