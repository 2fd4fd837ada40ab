"""The shop's own yield figures: set with a reason, put back, kept, and left alone by the catalog."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import timezone

from shop import catalog as shop_catalog
from shop.figures import FigureRefused, Own, last_change, put_back, set_own
from shop.models import FigureChange, YieldFigure

OWN = Own(4800, 5100, 5500)


@pytest.fixture
def lean(catalog: None) -> YieldFigure:
    return YieldFigure.objects.get(code="elk-lean-of-hanging")


def change(figure: YieldFigure, by: Any, own: Own = OWN, **more: Any) -> tuple[FigureChange, bool]:
    last = last_change(figure)
    given = {
        "reason": "Our own season",
        "by": by,
        "seen": last.pk if last else None,
        "sender_id": uuid4(),
        **more,
    }
    return set_own(figure, own, **given)


def values(figure: YieldFigure) -> tuple[int | None, int | None, int | None]:
    figure.refresh_from_db()
    return figure.override_low_bp, figure.override_bp, figure.override_high_bp


def test_an_own_value_is_kept_with_who_when_and_why(lean: YieldFigure, people: Any) -> None:
    before = timezone.now()
    made, new = change(lean, people.owner)
    assert new
    assert values(lean) == (4800, 5100, 5500)
    assert (made.person, made.reason) == (people.owner, "Our own season")
    assert before <= made.at <= timezone.now()
    assert (made.was_low_bp, made.was_likely_bp, made.was_high_bp) == (None, None, None)
    assert (lean.low_bp, lean.likely_bp, lean.high_bp) == (5450, 5989, 6450)


def test_old_values_stay(lean: YieldFigure, people: Any) -> None:
    change(lean, people.owner)
    change(lean, people.owner, Own(5000, 5300, 5600), reason="A second season")
    last = last_change(lean)
    assert last is not None
    put_back(lean, reason="A wrong scale", by=people.owner, seen=last.pk, sender_id=uuid4())
    assert values(lean) == (None, None, None)
    kept = [(row.likely_bp, row.was_likely_bp, row.reason) for row in lean.changes.all()]
    assert kept == [
        (None, 5300, "A wrong scale"),
        (5300, 5100, "A second season"),
        (5100, None, "Our own season"),
    ]


def test_the_same_form_changes_once(lean: YieldFigure, people: Any) -> None:
    uid = UUID(int=7)
    first, new = change(lean, people.owner, sender_id=uid)
    again, newer = change(lean, people.owner, sender_id=uid, seen=None)
    assert (first.pk, new, newer) == (again.pk, True, False)
    assert FigureChange.objects.count() == 1


def test_what_somebody_changed_meanwhile_is_read_first(lean: YieldFigure, people: Any) -> None:
    change(lean, people.owner)
    with pytest.raises(FigureRefused, match="changed this figure meanwhile"):
        change(lean, people.owner, Own(1, 2, 3), seen=None)
    with pytest.raises(FigureRefused, match="changed this figure meanwhile"):
        put_back(lean, reason="why not", by=people.owner, seen=None, sender_id=uuid4())
    assert values(lean) == (4800, 5100, 5500)


@pytest.mark.parametrize(
    ("own", "field"),
    [
        (Own(5200, 5100, 5500), "low"),
        (Own(4800, 5100, 5000), "high"),
        (Own(4800, 5100, 10_001), "high"),
        (Own(4800, 10_001, 10_001), "likely"),
        (Own(-1, 5100, 5500), "low"),
        (Own(-2, -1, 5500), "likely"),
    ],
)
def test_a_share_is_in_order_and_no_more_than_the_whole(
    lean: YieldFigure, people: Any, own: Own, field: str
) -> None:
    with pytest.raises(FigureRefused) as refused:
        change(lean, people.owner, own)
    assert refused.value.field == field
    assert values(lean) == (None, None, None)
    assert not FigureChange.objects.exists()


def test_a_region_may_cost_up_to_three_times_the_average(catalog: None, people: Any) -> None:
    shoulder = YieldFigure.objects.get(code="any-shot-at-shoulder")
    change(shoulder, people.owner, Own(12_000, 20_000, 30_000))
    assert values(shoulder) == (12_000, 20_000, 30_000)
    with pytest.raises(FigureRefused, match="between the likely value and 300 %"):
        change(shoulder, people.owner, Own(12_000, 20_000, 30_001))


@pytest.mark.parametrize("reason", ["", "  ", "x" * 201])
def test_a_reason_is_needed(lean: YieldFigure, people: Any, reason: str) -> None:
    with pytest.raises(FigureRefused) as refused:
        change(lean, people.owner, reason=reason)
    assert refused.value.field == "reason"


def test_nothing_to_change_is_said(lean: YieldFigure, people: Any) -> None:
    with pytest.raises(FigureRefused, match="published value is used already"):
        put_back(lean, reason="why not", by=people.owner, seen=None, sender_id=uuid4())
    change(lean, people.owner)
    with pytest.raises(FigureRefused, match="uses these values already"):
        change(lean, people.owner)


def test_the_database_keeps_order_too(lean: YieldFigure, people: Any) -> None:
    figures = YieldFigure.objects.filter(pk=lean.pk)
    for wrong in (
        {"override_bp": 10_001},
        {"override_bp": 5000, "override_low_bp": 5001, "override_high_bp": 6000},
        {"override_bp": 5000, "override_low_bp": 4000, "override_high_bp": 4999},
        {"override_low_bp": 4000, "override_high_bp": 4999},
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            figures.update(**wrong)
    made, _ = change(lean, people.owner)
    for wrong_change in ({"reason": ""}, {"likely_bp": None}, {"low_bp": 5200}):
        with pytest.raises(IntegrityError), transaction.atomic():
            FigureChange.objects.filter(pk=made.pk).update(**wrong_change)


def test_loading_the_catalog_again_overwrites_nothing(lean: YieldFigure, people: Any, tmp_path: Path) -> None:
    change(lean, people.owner)
    folder = tmp_path / "fixtures"
    shutil.copytree(settings.FIXTURE_ROOT, folder, ignore=shutil.ignore_patterns("demo"))
    path = folder / "yield_figures.json"
    rows = json.loads(path.read_text(encoding="utf-8"))
    for row in rows:
        if row["code"] == lean.code:
            row.update(low_bp=5600, likely_bp=6100, high_bp=6600)
    path.write_text(json.dumps(rows), encoding="utf-8")
    shop_catalog.load(folder)
    assert values(lean) == (4800, 5100, 5500)
    assert (lean.low_bp, lean.likely_bp, lean.high_bp) == (5600, 6100, 6600)
    assert lean.changes.count() == 1


def test_a_figure_that_the_file_has_no_longer_goes_unless_the_shop_set_its_own(
    lean: YieldFigure, people: Any, tmp_path: Path
) -> None:
    folder = tmp_path / "fixtures"
    shutil.copytree(settings.FIXTURE_ROOT, folder, ignore=shutil.ignore_patterns("demo"))
    path = folder / "yield_figures.json"
    gone = {"elk-lean-of-hanging", "elk-shot-loss", "moose-shot-loss", "any-part-share-neck"}
    rows = [row for row in json.loads(path.read_text(encoding="utf-8")) if row["code"] not in gone]
    path.write_text(json.dumps(rows), encoding="utf-8")
    change(lean, people.owner)
    put_back(lean, reason="no", by=people.owner, seen=last_change(lean).pk, sender_id=uuid4())  # type: ignore[union-attr]
    YieldFigure.objects.filter(code="elk-shot-loss").update(override_bp=900)
    shop_catalog.load(folder)
    left = YieldFigure.objects.filter(code__in=gone).values_list("code", flat=True)
    assert set(left) == {"elk-lean-of-hanging", "elk-shot-loss"}
