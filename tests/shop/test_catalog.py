"""The catalog as shipped, loading it twice, and what a mistake in a file says."""

from __future__ import annotations

import json
import shutil
from collections import Counter, defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shop import catalog as shop_catalog
from shop.models import (
    Choice,
    HouseCut,
    NoTagReason,
    Part,
    PartName,
    PieceForm,
    Species,
    SpeciesPart,
    YieldFigure,
)
from shop.weights import pounds

MODELS = [Choice, HouseCut, NoTagReason, Part, PartName, PieceForm, Species, SpeciesPart, YieldFigure]

Edit = Callable[[list[dict[str, Any]]], None]


@pytest.fixture
def catalog(db: None) -> dict[str, int]:
    """Rows of each file, after loading them (again)."""
    return shop_catalog.load()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the catalog files that a test may spoil."""
    return Path(shutil.copytree(settings.FIXTURE_ROOT, tmp_path / "fixtures"))


def edit(folder: Path, name: str, change: Edit) -> None:
    path = folder / name
    rows = json.loads(path.read_text(encoding="utf-8"))
    change(rows)
    path.write_text(json.dumps(rows), encoding="utf-8")


def contents() -> dict[str, list[dict[str, Any]]]:
    rows = {model.__name__: list(model.objects.order_by("pk").values()) for model in MODELS}
    rows["choices of parts"] = list(
        Part.choices.through.objects.order_by("part", "choice").values("part", "choice")
    )
    rows["parts of forms"] = list(
        PieceForm.parts.through.objects.order_by("pieceform", "part").values("pieceform", "part")
    )
    return rows


def test_counts_are_the_rows_in_the_database(catalog: dict[str, int]) -> None:
    assert catalog == {
        "choices": Choice.objects.count(),
        "species": Species.objects.count(),
        "parts": Part.objects.count(),
        "species_parts": SpeciesPart.objects.count(),
        "house_cuts": HouseCut.objects.count(),
        "piece_forms": PieceForm.objects.count(),
        "no_tag_reasons": NoTagReason.objects.count(),
        "yield_figures": YieldFigure.objects.count(),
    }
    assert (catalog["species"], catalog["parts"]) == (11, 21)


def test_loading_again_changes_nothing(catalog: dict[str, int]) -> None:
    before = contents()
    assert shop_catalog.load() == catalog
    assert contents() == before


def test_loading_does_not_ask_row_by_row(catalog: dict[str, int]) -> None:
    with CaptureQueriesContext(connection) as queries:
        shop_catalog.load()
    assert len(queries) < 120
    assert sum(catalog.values()) > 250


def test_what_the_shop_set_itself_stays(catalog: dict[str, int]) -> None:
    YieldFigure.objects.filter(code="elk-shot-loss").update(override_bp=900)
    HouseCut.objects.filter(species=None, part__code="backstrap").update(thickness_16ths=20)
    NoTagReason.objects.filter(code="farm-raised").update(active=False, sentence="Our own words.")
    shop_catalog.load()
    assert YieldFigure.objects.get(code="elk-shot-loss").override_bp == 900
    assert HouseCut.objects.get(species=None, part__code="backstrap").thickness_16ths == 20
    reason = NoTagReason.objects.get(code="farm-raised")
    assert (reason.active, reason.sentence) == (False, "Our own words.")


def test_how_long_a_species_hangs_and_what_it_may_weigh_is_the_shop_s(
    catalog: dict[str, int], folder: Path
) -> None:
    """The file gives the first numbers; from then on they are the shop's, until it asks for those of the file."""
    own = {"hang_days": 9, "hang_limit_days": 21, "doubt_mg": pounds(250), "max_mg": pounds(450)}
    Species.objects.filter(code="white-tailed-deer").update(**own)
    edit(folder, "species.json", lambda rows: rows[0].update(hang_days=4, max_lb=600, name="White-tail"))
    edit(folder, "species.json", lambda rows: rows.append({**rows[1], "code": "sika-deer", "hang_days": 6}))
    shop_catalog.load(folder)
    deer = Species.objects.filter(code="white-tailed-deer")
    assert deer.values(*own).get() == own
    assert deer.get().name == "White-tail"
    assert Species.objects.get(code="sika-deer").hang_days == 6
    call_command("load_catalog", root=folder, limits=True)
    assert deer.values(*own).get() == {
        "hang_days": 4,
        "hang_limit_days": 14,
        "doubt_mg": pounds(300),
        "max_mg": pounds(600),
    }


def test_a_corrected_file_is_taken_over(catalog: dict[str, int], folder: Path) -> None:
    YieldFigure.objects.filter(code="elk-shot-loss").update(override_bp=900)
    edit(folder, "yield_figures.json", lambda rows: rows[0].update(n="1028"))
    edit(folder, "species.json", lambda rows: rows[0].update(caution="Cook it."))
    edit(folder, "parts.json", lambda rows: rows[0].update(names_en=["inside loin"], ambiguous_en=[]))
    edit(folder, "species_parts.json", lambda rows: rows[0].update(parts=["tenderloin"], to_grind=[]))
    shop_catalog.load(folder)
    assert YieldFigure.objects.get(code="white-tailed-deer-dressed-on-of-live").n == "1028"
    assert YieldFigure.objects.get(code="elk-shot-loss").override_bp == 900
    deer = Species.objects.get(code="white-tailed-deer")
    assert deer.caution == "Cook it."
    assert list(
        PartName.objects.filter(part__code="tenderloin", language="en").values_list("name", flat=True)
    ) == ["inside loin"]
    assert [row.part.code for row in deer.parts.all()] == ["tenderloin"]


@pytest.mark.parametrize(
    ("name", "change", "said"),
    [
        (
            "parts.json",
            lambda rows: rows[0]["choices"].append("fried"),
            "parts.json: there is no choice “fried”",
        ),
        (
            "house_cuts.json",
            lambda rows: rows[0].update(part="wing"),
            "house_cuts.json: there is no part “wing”",
        ),
        (
            "house_cuts.json",
            lambda rows: rows[0].update(choice="soup-bones"),
            "tenderloin is not made as soup-bones",
        ),
        ("house_cuts.json", lambda rows: rows.append(rows[0]), "tenderloin of any species stands twice"),
        ("species_parts.json", lambda rows: rows[0].update(species="yeti"), "there is no species “yeti”"),
        (
            "species_parts.json",
            lambda rows: rows[0]["to_grind"].append("wing"),
            "wing is not among its parts",
        ),
        (
            "piece_forms.json",
            lambda rows: rows[1]["parts"].append("wing"),
            "piece_forms.json: there is no part “wing”",
        ),
        (
            "species.json",
            lambda rows: rows[0].pop("doubt_lb"),
            "species.json, white-tailed-deer: doubt_lb missing",
        ),
        (
            "species.json",
            lambda rows: rows[0].update(caution="x" * 301),
            "species.json, White-tailed deer: .*caution",
        ),
        (
            "choices.json",
            lambda rows: rows[0].update(is_grnd=True),
            "choices.json, plucked-whole: is_grnd not known",
        ),
        ("choices.json", lambda rows: rows.append(rows[0]), "choices.json, Plucked whole: stands twice"),
        (
            "yield_figures.json",
            lambda rows: rows[0].update(low_bp=9900),
            "low, likely and high are not in order",
        ),
        (
            "yield_figures.json",
            lambda rows: rows[0].update(quantity="luck"),
            "the quantity “luck” is not known",
        ),
        ("yield_figures.json", lambda rows: rows[0].update(source=" "), "the source is missing"),
        ("yield_figures.json", lambda rows: rows[0].update(contains=["luck"]), "the loss luck is not known"),
        ("yield_figures.json", lambda rows: rows[0].update(aged_days=3), "contains drying says of how many"),
        (
            "yield_figures.json",
            lambda rows: rows[0].update(shot_loss_base="lean"),
            "says what it is a share of",
        ),
        ("yield_figures.json", lambda rows: rows[0].update(lent_by="elk"), "what is borrowed says of whom"),
        (
            "yield_figures.json",
            lambda rows: rows[0].update(spread_grade="wide"),
            "yield_figures.json, .*spread",
        ),
        (
            "yield_figures.json",
            lambda rows: rows.append({**rows[0], "code": "again"}),
            "again: another row is of the same quantity",
        ),
        ("yield_figures.json", lambda rows: rows[0].update(grade="sure"), "yield_figures.json, .*grade"),
    ],
)
def test_a_mistake_names_its_file_and_changes_nothing(
    catalog: dict[str, int], folder: Path, name: str, change: Edit, said: str
) -> None:
    before = contents()
    edit(folder, "species.json", lambda rows: rows[1].update(hang_days=1))
    edit(folder, name, change)
    with pytest.raises(shop_catalog.CatalogError, match=said):
        shop_catalog.load(folder)
    assert contents() == before


def test_a_missing_or_broken_file_is_named(db: None, folder: Path) -> None:
    (folder / "choices.json").write_text("[{]", encoding="utf-8")
    with pytest.raises(shop_catalog.CatalogError, match=r"choices.json, line 1"):
        shop_catalog.load(folder)
    (folder / "choices.json").unlink()
    with pytest.raises(shop_catalog.CatalogError, match=r"choices.json is missing"):
        shop_catalog.load(folder)


def test_the_command_says_what_it_loaded(db: None, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("load_catalog")
    assert "11 species, 21 parts" in capsys.readouterr().out
    (folder / "parts.json").unlink()
    with pytest.raises(CommandError, match=r"parts.json is missing"):
        call_command("load_catalog", root=folder)


def test_ambiguous_words_are_those_on_more_than_one_part(catalog: dict[str, int]) -> None:
    """Both ways: a word on two parts is asked about, and a word that is asked about leads to two parts."""
    parts: defaultdict[tuple[str, str], set[int]] = defaultdict(set)
    flags: defaultdict[tuple[str, str], set[bool]] = defaultdict(set)
    for word in PartName.objects.all():
        key = (word.language, word.name.casefold())
        parts[key].add(word.part_id)
        flags[key].add(word.ambiguous)
    assert {key for key, found in parts.items() if len(found) > 1} == {
        key for key, found in flags.items() if True in found
    }
    assert all(len(found) == 1 for found in flags.values())
    for swapped in ("tenderloin", "backstrap", "fish"):
        assert {"tenderloin", "backstrap"} <= set(
            Part.objects.filter(names__name=swapped, names__ambiguous=True).values_list("code", flat=True)
        )


def test_hints_tell_tenderloin_from_backstrap(catalog: dict[str, int]) -> None:
    assert Part.objects.get(code="tenderloin").hint.startswith("inside, small")
    assert Part.objects.get(code="backstrap").hint.startswith("outside, long")


BIRD_PARTS = {"bird", "loose-legs", "giblets"}


def test_every_mammal_has_every_part_of_a_carcass_and_every_bird_those_of_a_bird(
    catalog: dict[str, int],
) -> None:
    carcass = set(Part.objects.exclude(code__in=BIRD_PARTS).values_list("code", flat=True))
    assert len(carcass) == 18
    for species in Species.objects.all():
        parts = set(species.parts.values_list("part__code", flat=True))
        assert parts == (BIRD_PARTS if species.is_bird else carcass), species.code


def test_a_bird_is_left_whole_or_breasted_out(catalog: dict[str, int]) -> None:
    """Whole pluck, breast out, crown, legs and giblets: common practice, no source."""
    made = {part.code: set(part.choices.values_list("code", flat=True)) for part in Part.objects.all()}
    assert {"plucked-whole", "skinned-whole", "breast-fillets", "breast-on-bone", "ground"} <= made["bird"]
    assert {"whole", "ground", "discard"} <= made["loose-legs"]
    assert made["giblets"] == {"keep", "discard"}
    for code, parts in made.items():
        assert code in BIRD_PARTS or not parts & {"plucked-whole", "skinned-whole", "breast-fillets"}


def test_every_part_has_a_house_cut_that_the_shop_can_make_without_a_saw(catalog: dict[str, int]) -> None:
    general = {cut.part_id: cut for cut in HouseCut.objects.filter(species=None).select_related("choice")}
    assert set(general) == set(Part.objects.values_list("id", flat=True))
    for cut in HouseCut.objects.select_related("choice", "part"):
        assert not cut.choice.bone_in, cut
        assert cut.part.choices.contains(cut.choice), cut
        assert (cut.thickness_16ths is not None) == cut.choice.wants_thickness, cut
        assert (cut.pieces_per_pack is not None) == cut.choice.wants_pieces, cut
        assert (cut.pack_oz is not None) == cut.choice.wants_pack, cut


def test_what_is_not_worth_keeping_goes_to_grind_trim(catalog: dict[str, int]) -> None:
    own = {(cut.species_id, cut.part_id): cut for cut in HouseCut.objects.select_related("choice")}
    rows = SpeciesPart.objects.filter(worth_keeping=False).select_related("part", "species")
    assert rows
    for row in rows:
        cut = own.get((row.species_id, row.part_id)) or own[(None, row.part_id)]
        assert cut.choice.is_grind, row
        assert row.part.choices.filter(is_grind=True).exists(), row
    for code in ("elk", "moose"):
        worth = SpeciesPart.objects.filter(species__code=code, worth_keeping=True).values_list(
            "part__code", flat=True
        )
        assert {"brisket", "flank", "tri-tip"} <= set(worth)
    for code in ("white-tailed-deer", "mule-deer", "pronghorn"):
        poor = SpeciesPart.objects.filter(species__code=code, worth_keeping=False).values_list(
            "part__code", flat=True
        )
        assert {"brisket", "flank", "tri-tip"} <= set(poor)


def test_nothing_is_thrown_away_that_nobody_answered(catalog: dict[str, int]) -> None:
    assert HouseCut.objects.get(species=None, part__code="organs").choice.code == "keep"
    thrown = set(HouseCut.objects.filter(choice__is_discard=True).values_list("part__code", flat=True))
    assert thrown == {"ribs", "bones"}
    assert not HouseCut.objects.exclude(fat_bp=0).exists()


def test_fat_can_be_added_where_the_grinder_runs(catalog: dict[str, int]) -> None:
    """Grind trim is made ground, or kept whole as stew or chunks; each asks for its pack."""
    choices = {choice.code: choice for choice in Part.objects.get(code="grind-trim").choices.all()}
    assert {code for code, choice in choices.items() if choice.is_grind} == {
        "ground",
        "ground-coarse",
        "patties",
    }
    assert {code for code, choice in choices.items() if not choice.is_grind} == {"stew", "chunks"}
    assert all(choice.wants_pack or choice.wants_pieces for choice in choices.values())


def test_forms_bring_the_parts_of_the_animal(catalog: dict[str, int]) -> None:
    forms = {form.code: form for form in PieceForm.objects.prefetch_related("parts")}
    brought = {code: {part.code for part in form.parts.all()} for code, form in forms.items()}
    assert len(brought["whole-carcass"]) == 18
    assert [code for code, form in forms.items() if form.is_whole] == ["whole-carcass"]
    assert {code for code, form in forms.items() if form.is_kept_part} == {
        "head",
        "antlers",
        "cape",
        "hide",
        "organs",
    }
    assert "sirloin-butt" in brought["hind-quarter-left"]
    assert "backstrap" not in brought["hind-quarter-left"]
    for side in ("side", "hind-quarter", "front-quarter"):
        assert brought[f"{side}-left"] == brought[f"{side}-right"]
    assert brought["bag-trim"] == {"grind-trim"}
    for code, form in forms.items():
        assert not (form.is_boneless and brought[code] & {"bones", "ribs"}), code


def test_cautions_say_who_decides(catalog: dict[str, int]) -> None:
    """Bear and wild boar: 165 F, and freezing is no kill step (CDC MMWR, 2024, as reported). Birds: 165 F (USDA)."""
    for species in Species.objects.all():
        if species.is_bird or species.code in ("black-bear", "wild-boar"):
            assert "165 °F" in species.caution, species.code
            assert species.caution.endswith("Local rules and licensed practice decide."), species.code
        else:
            assert species.caution == ""
    for code in ("black-bear", "wild-boar"):
        assert (
            "freezing, smoking or curing may leave Trichinella alive"
            in Species.objects.get(code=code).caution
        )
    waterfowl = Species.objects.filter(source__contains="50 CFR 20.36").values_list("code", flat=True)
    assert set(waterfowl) == {"mallard", "canada-goose"}


def test_every_number_has_a_source(catalog: dict[str, int]) -> None:
    for model in (Species, Part, SpeciesPart, YieldFigure):
        assert not model.objects.filter(source="").exists(), model
    # What another species lends is never taken for a published figure.
    lent = YieldFigure.objects.exclude(lent_by="")
    assert lent.count() > 20
    assert set(lent.values_list("grade", "spread_grade")) == {("borrowed", "practice")}
    assert not YieldFigure.objects.filter(lent_by="", grade="borrowed").exists()


def test_figures_of_a_species_come_before_those_of_any(catalog: dict[str, int]) -> None:
    elk = Species.objects.get(code="elk")
    found = shop_catalog.figures_of(elk)
    assert set(found) == set(shop_catalog.QUANTITIES) - {"part_share"}
    assert found["shot_loss"].code == "elk-shot-loss"
    assert found["first_chill"].species is None
    YieldFigure.objects.filter(code="elk-shot-loss").delete()
    assert shop_catalog.figures_of(elk)["shot_loss"].code == "any-shot-loss"
    YieldFigure.objects.filter(code="any-shot-loss").delete()
    YieldFigure.objects.filter(code="any-part-share-neck").update(likely_bp=710)
    assert "shot_loss" not in shop_catalog.figures_of(elk)
    assert shop_catalog.part_figures_of(elk)["neck"].likely_bp == 710


def test_every_mammal_has_every_quantity_and_the_parts_share_the_whole(catalog: dict[str, int]) -> None:
    for species in Species.objects.filter(is_bird=False):
        assert set(shop_catalog.figures_of(species)) == set(shop_catalog.QUANTITIES) - {"part_share"}
        parts = shop_catalog.part_figures_of(species)
        assert sum(figure.likely_bp for figure in parts.values()) == 10_000
        meat = Part.objects.filter(species__species=species).exclude(code__in=["organs", "bones"])
        assert set(parts) == set(meat.values_list("code", flat=True))
    counted = Counter(YieldFigure.objects.values_list("species", "part", "quantity", "sex", "age_class"))
    assert set(counted.values()) == {1}
