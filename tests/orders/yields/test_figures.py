"""The figures as the arithmetic gets them: own before published, class before species, species before the general."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

from orders.intake.models import Animal
from orders.yields.constants import FAMILY, Loss, ShotBase
from orders.yields.figures import load_figures
from shop.models import Species, YieldFigure


def species(code: str) -> Species:
    return Species.objects.get(code=code)


def animal(code: str, sex: str = "unknown", age_class: str = "unknown") -> Animal:
    of = species(code)
    return SimpleNamespace(species=of, species_id=of.pk, sex=sex, age_class=age_class)  # type: ignore[return-value]


def test_all_figures_take_one_query(catalog: None, queries_of: Callable[[Any], int]) -> None:
    assert queries_of(load_figures) == 1


def test_a_row_says_what_it_contains(catalog: None) -> None:
    elk = load_figures().by_species[species("elk").pk]
    assert elk.lean_of_hanging.contains == {Loss.CHILL, Loss.DRYING, Loss.FAT}
    assert elk.lean_of_hanging.aged_days == 14
    assert elk.lean_of_quarters.aged_days == 0
    assert elk.shot_loss.base is ShotBase.LEAN
    assert load_figures().by_species[species("pronghorn").pk].shot_loss.base is ShotBase.CARCASS


def test_the_shop_s_own_value_wins(catalog: None) -> None:
    rows = YieldFigure.objects.filter(code="elk-lean-of-hanging")
    rows.update(override_bp=5100, override_low_bp=4900, override_high_bp=5400)
    share = load_figures().by_species[species("elk").pk].lean_of_hanging.share
    assert share.bounds_bp == (4900, 5100, 5400)
    assert share.own
    assert share.source.startswith("the shop's own value; published: Bulls, 218/(437 - 73)")


def test_an_own_likely_value_alone_keeps_the_published_spread(catalog: None) -> None:
    YieldFigure.objects.filter(code="elk-lean-of-hanging").update(override_bp=5100)
    share = load_figures().by_species[species("elk").pk].lean_of_hanging.share
    assert share.bounds_bp == (5450 * 5100 // 5989, 5100, 6450 * 5100 // 5989)


def test_a_class_comes_before_its_species(catalog: None) -> None:
    figures = load_figures()
    key = species("pronghorn").pk
    buck = figures.of(key, "male-adult")
    doe = figures.of(key, "female-adult")
    assert buck is not None
    assert doe is not None
    assert (buck.dressed_on_of_live.likely_bp, doe.dressed_on_of_live.likely_bp) == (7353, 7050)
    assert buck.lean_of_hanging == doe.lean_of_hanging
    assert figures.of_animal(animal("pronghorn", "male", "adult")).dressed_on_of_live.likely_bp == 7353  # type: ignore[union-attr]
    assert figures.of_animal(animal("pronghorn", "male", "unknown")).dressed_on_of_live.likely_bp == 7050  # type: ignore[union-attr]


def test_a_sex_of_any_age_comes_before_the_species(catalog: None) -> None:
    row = YieldFigure.objects.get(code="elk-lean-of-hanging")
    row.pk, row.code, row.sex, row.likely_bp = None, "elk-lean-of-hanging-female", "female", 5800
    row.save()
    figures = load_figures()
    lean = {
        name: figures.of(species("elk").pk, name).lean_of_hanging.share.likely_bp  # type: ignore[union-attr]
        for name in ("female-adult", "female-unknown", "male-adult", "")
    }
    assert lean == {"female-adult": 5800, "female-unknown": 5800, "male-adult": 5989, "": 5989}


def test_a_species_without_any_figure_gets_the_general_ones(catalog: None) -> None:
    Species.objects.filter(code="elk").update(code="elk-before")
    deer = species("elk-before")
    deer.pk, deer.code, deer.name = None, "sika-deer", "Sika deer"
    deer.save()
    figures = load_figures()
    assert figures.of(deer.pk) is None
    found = figures.of_animal(animal("sika-deer"))
    assert found is not None
    assert found.species == "sika deer"
    bear = figures.of_animal(animal("black-bear"))
    assert bear is not None
    assert found.lean_of_hanging.share.bounds_bp == bear.lean_of_hanging.share.bounds_bp
    assert found.lean_of_hanging.share.lent_by == FAMILY


def test_birds_have_no_figures(catalog: None) -> None:
    assert load_figures().of_animal(animal("mallard")) is None


def test_without_a_catalog_there_are_no_figures(catalog: None) -> None:
    YieldFigure.objects.filter(quantity="first_chill").delete()
    figures = load_figures()
    assert figures.of_animal(animal("elk")) is None
    assert figures.by_species == {}


def test_without_tenderloins_there_are_no_figures(catalog: None) -> None:
    YieldFigure.objects.filter(part__code="tenderloin").delete()
    assert load_figures().general is None


def test_a_species_own_part_share_comes_first(catalog: None) -> None:
    row = YieldFigure.objects.get(code="any-part-share-neck")
    elk = species("elk")
    row.pk, row.code, row.species, row.likely_bp = None, "elk-part-share-neck", elk, 800
    row.save()
    figures = load_figures()
    assert figures.parts_of(elk.pk)["neck"].likely_bp == 800
    assert figures.parts_of(species("moose").pk)["neck"].likely_bp == 700
    assert len(figures.parts_of(elk.pk)) == 16


@pytest.mark.parametrize("code", ["white-tailed-deer", "black-bear"])
def test_whose_figure_is_used_is_known(catalog: None, code: str) -> None:
    found = load_figures().by_species[species(code).pk]
    assert found.lean_of_hanging.share.lent_by == ("mule deer" if code == "white-tailed-deer" else FAMILY)
