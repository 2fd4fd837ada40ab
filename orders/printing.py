"""Everything of an order in one file, made in the background: the job, its file, and how far it is."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.utils.text import get_valid_filename

from labels.bundle import render_bundle
from labels.values import LabelError
from orders.intake.models import Animal, Order
from orders.ledger.models import Piece, PieceKind, PieceState
from orders.packing.models import Package
from orders.papers.intake import animal_tags, claim_slip, read_back
from orders.papers.meat import box_label, lug_card, package_labels, with_label_values
from orders.pickup.queries import pieces_of
from shop import jobs
from shop.models import Job, JobState

KIND = "print_order"


def register() -> None:
    """Tell the job loop and the Celery workers how this kind of work is done."""
    jobs.register(KIND)(print_order)


def start(order: Order, sender_id: UUID | None = None) -> Job:
    """Ask for an order's file. The same `sender_id` again is the same job."""
    return jobs.enqueue(KIND, {"order": order.pk, "number": order.number}, uid=sender_id)


def last_job(order: Order) -> Job | None:
    """The newest job for this order."""
    return Job.objects.filter(kind=KIND, payload__order=order.pk).order_by("-id").first()


def file_of(order: Order) -> Path:
    """Where an order's file is, or will be."""
    return Path(settings.PRINT_ROOT) / f"{get_valid_filename(order.number)}.pdf"


def print_order(payload: Any) -> dict[str, Any]:
    """Render all labels of an order to its file, which is replaced whole. Raises JobError with a sentence."""
    order = Order.objects.select_related("hunter").filter(pk=payload["order"]).first()
    if order is None:
        raise jobs.GiveUpError("This order is not in the book any more.")
    try:
        printed = render_bundle(parts_of(order))
    except LabelError as error:
        raise jobs.GiveUpError(str(error)) from error
    path = file_of(order)
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    part.write_bytes(printed.pdf)
    part.replace(path)
    return {"file": path.name, "pages": printed.pages, "notes": list(printed.notes)}


def parts_of(order: Order) -> list[tuple[str, list[dict[str, Any]]]]:
    """What is printed of an order, design by design, in the order it is needed."""
    animals = list(
        Animal.objects.filter(order=order)
        .exclude(ended="void")
        .select_related("order__hunter", "species", "taker", "no_tag_reason")
        .order_by("n")
    )
    pieces = Piece.objects.filter(pieces_of(order)).exclude(state=PieceState.VOID)
    lugs = pieces.filter(kind=PieceKind.LUG).exclude(state=PieceState.USED)
    lugs = lugs.select_related("animal__order__hunter", "animal__species", "animal__taker", "order__hunter")
    packages = Package.objects.filter(piece__in=pieces.values("pk"))
    boxes = pieces.filter(kind=PieceKind.BOX, inside__isnull=False).distinct().select_related("order__hunter")
    sheets = [read_back(animal) for animal in animals]
    return [
        ("claim_slip", [claim_slip(order)]),
        ("piece_tag", [tag for animal in animals for tag in animal_tags(animal)]),
        ("read_back", [sheet for sheet in sheets if sheet is not None]),
        ("lug_card", [lug_card(lug) for lug in lugs.order_by("id")]),
        ("package_label", package_labels(list(with_label_values(packages)))),
        ("box_label", [box_label(box) for box in boxes.order_by("n")]),
    ]


def state_words(job: Job | None) -> str:
    """How far the file is, in words."""
    if job is None:
        return "Nothing has been asked for yet."
    return {
        JobState.WAITING: "Waiting for its turn." if not job.error else f"Will be tried again: {job.error}",
        JobState.RUNNING: "Being made now.",
        JobState.DONE: f"Ready: {job.result.get('pages', 0)} pages.",
        JobState.FAILED: f"Not made: {job.error}",
    }[JobState(job.state)]
