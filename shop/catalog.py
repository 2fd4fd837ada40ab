"""Loads the catalog of `fixtures/` into the database: species, parts, choices, forms, house cuts, yield figures.

The files are read by people: every reference is a code, weights are pounds, and a mistake is named with its file.
Loading again changes nothing. What a shop set for itself stays: its own yield values, house cuts and tag reasons, and
how long a species hangs and what it may weigh.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models import Q

from shop.figures import most_bp
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

Row = dict[str, Any]
QUANTITIES = (
    "dressed_on_of_live",
    "hanging_of_dressed_on",
    "hanging_of_dressed_off",
    "lean_of_hanging",
    "lean_of_quarters",
    "boneless_kept",
    "shot_loss",
    "remaining_shot",
    "bloodshot_meat",
    "first_chill",
    "drying_per_day",
    "drying_meat",
    *(f"shot_at_{region}" for region in ("head", "neck", "ribs", "gut", "loin", "hind", "shoulder")),
    "part_share",
)
LOSSES = ("first chill", "drying", "shot loss", "fat")
FIGURE_NEEDED = (
    "code",
    "quantity",
    "basis",
    "low_bp",
    "likely_bp",
    "high_bp",
    "n",
    "spread",
    "spread_grade",
    "source",
    "grade",
    "fitted_to",
)
FIGURE_OPTIONAL = ("sex", "age_class", "contains", "aged_days", "shot_loss_base", "lent_by")
NAME_KEYS = {
    "names_en": ("en", False),
    "names_es": ("es", False),
    "ambiguous_en": ("en", True),
    "ambiguous_es": ("es", True),
}
# A species' own numbers, which the shop knows best: the file only gives the first ones.
LIMITS = ("hang_days", "hang_limit_days", "doubt_mg", "max_mg")
FLAGS = ("bone_in", "is_grind", "is_discard", "wants_thickness", "wants_pieces", "wants_pack")


class CatalogError(ValueError):
    """A mistake in a catalog file; the text names the file and the row."""


def load(root: Path | None = None, *, limits: bool = False) -> dict[str, int]:
    """Load every file of the catalog in one transaction and return how many rows each holds.

    The hanging days and weight limits of a species that is there already stay as they are, unless `limits` says to
    take the file's. Raises CatalogError, and then nothing is changed.
    """
    folder = Path(root) if root is not None else Path(settings.FIXTURE_ROOT)
    with transaction.atomic():
        return {
            "choices": _load_choices(folder),
            "species": _load_species(folder, limits=limits),
            "parts": _load_parts(folder),
            "species_parts": _load_species_parts(folder),
            "house_cuts": _load_house_cuts(folder),
            "piece_forms": _load_forms(folder),
            "no_tag_reasons": _load_reasons(folder),
            "yield_figures": _load_figures(folder),
        }


def figures_of(species: Species) -> dict[str, YieldFigure]:
    """The yield figure of each quantity for a species: its own row, else the one for any species; no part shares."""
    rows = YieldFigure.objects.filter(Q(species=species) | Q(species=None), part=None, sex="", age_class="")
    found: dict[str, YieldFigure] = {}
    for row in rows:
        if row.species_id is not None or row.quantity not in found:
            found[row.quantity] = row
    return found


def part_figures_of(species: Species) -> dict[str, YieldFigure]:
    """Part code -> its share of the boneless lean: the species' own row, else the one for any species."""
    rows = YieldFigure.objects.filter(
        Q(species=species) | Q(species=None), quantity="part_share", part__isnull=False
    ).select_related("part")
    found: dict[str, YieldFigure] = {}
    for row in rows:
        assert row.part is not None
        if row.species_id is not None or row.part.code not in found:
            found[row.part.code] = row
    return found


def _read(folder: Path, name: str, needed: Sequence[str], optional: Sequence[str] = ()) -> list[Row]:
    """The rows of a file. Raises CatalogError when it cannot be read, or a row lacks a key or has one too many."""
    path = folder / name
    try:
        rows = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise CatalogError(f"{name} is missing.") from error
    except json.JSONDecodeError as error:
        raise CatalogError(f"{name}, line {error.lineno}: {error.msg}.") from error
    if not isinstance(rows, list):
        raise CatalogError(f"{name} is a list of rows.")
    for number, row in enumerate(rows, start=1):
        if missing := [key for key in needed if key not in row]:
            raise CatalogError(f"{name}, {row.get('code', f'row {number}')}: {', '.join(missing)} missing.")
        if stray := [key for key in row if key not in {*needed, *optional}]:
            raise CatalogError(f"{name}, {row.get('code', f'row {number}')}: {', '.join(stray)} not known.")
    return rows


def _pick(name: str, known: Mapping[str, Any], code: str, what: str) -> Any:
    """The row that a code names. Raises CatalogError for a code that no file has."""
    if code not in known:
        raise CatalogError(f"{name}: there is no {what} “{code}”.")
    return known[code]


def _by_code(model: type[models.Model]) -> dict[str, Any]:
    return {row.code: row for row in model._default_manager.all()}  # type: ignore[attr-defined]


def _upsert(
    name: str,
    model: type[models.Model],
    rows: Iterable[models.Model],
    keys: Sequence[str],
    never: Sequence[str] = (),
) -> int:
    """Insert or update by `keys` in one statement, leaving the fields of `never` as they are. Returns the rows."""
    found = list(rows)
    # Relations were looked up by code already; checking them again is a query a row.
    related = {field.name for field in model._meta.concrete_fields if field.is_relation or field.primary_key}
    seen: set[tuple[Any, ...]] = set()
    for row in found:
        try:
            row.clean_fields(exclude=related)
        except ValidationError as error:
            said = f"{error.messages[0]} ({', '.join(error.message_dict)})"
            raise CatalogError(f"{name}, {row}: {said}") from error
        key = tuple(getattr(row, field) for field in keys)
        if key in seen:
            raise CatalogError(f"{name}, {row}: stands twice.")
        seen.add(key)
    left = {"id", *keys, *never}
    fields = [field.name for field in model._meta.concrete_fields if field.name not in left]
    model._default_manager.bulk_create(found, update_conflicts=True, unique_fields=keys, update_fields=fields)
    return len(found)


def _load_choices(folder: Path) -> int:
    name = "choices.json"
    rows = _read(folder, name, ("code", "name", "name_es"), FLAGS)
    return _upsert(
        name,
        Choice,
        (
            Choice(
                code=row["code"],
                name=row["name"],
                name_es=row["name_es"],
                sort=sort,
                **{flag: row.get(flag, False) for flag in FLAGS},
            )
            for sort, row in enumerate(rows)
        ),
        ["code"],
    )


def _load_species(folder: Path, *, limits: bool) -> int:
    name = "species.json"
    plain = (
        "code",
        "name",
        "name_es",
        "latin",
        "is_bird",
        "hang_days",
        "hang_limit_days",
        "caution",
        "source",
    )
    rows = _read(folder, name, (*plain, "doubt_lb", "max_lb"))
    return _upsert(
        name,
        Species,
        (
            Species(
                doubt_mg=pounds(row["doubt_lb"]),
                max_mg=pounds(row["max_lb"]),
                sort=sort,
                **{key: row[key] for key in plain},
            )
            for sort, row in enumerate(rows)
        ),
        ["code"],
        never=() if limits else LIMITS,
    )


def _load_parts(folder: Path) -> int:
    name = "parts.json"
    plain = ("code", "name", "name_es", "muscles", "hint", "belongs_with", "source")
    rows = _read(folder, name, (*plain, "choices", *NAME_KEYS))
    count = _upsert(
        name,
        Part,
        (Part(sort=sort, **{key: row[key] for key in plain}) for sort, row in enumerate(rows)),
        ["code"],
    )
    parts, choices = _by_code(Part), _by_code(Choice)
    names = []
    for row in rows:
        part = parts[row["code"]]
        part.choices.set([_pick(name, choices, code, "choice") for code in row["choices"]])
        names += [
            PartName(part=part, name=word, language=language, ambiguous=ambiguous)
            for key, (language, ambiguous) in NAME_KEYS.items()
            for word in row[key]
        ]
    _upsert(name, PartName, names, ["part", "name", "language"])
    _drop_others(
        PartName,
        {(word.part_id, word.name, word.language) for word in names},
        ("part_id", "name", "language"),
    )
    return count


def _load_species_parts(folder: Path) -> int:
    name = "species_parts.json"
    rows = _read(folder, name, ("species", "parts", "to_grind", "source"))
    species, parts = _by_code(Species), _by_code(Part)
    found = []
    for row in rows:
        owner = _pick(name, species, row["species"], "species")
        if stray := set(row["to_grind"]) - set(row["parts"]):
            raise CatalogError(
                f"{name}, {row['species']}: {', '.join(sorted(stray))} is not among its parts."
            )
        found += [
            SpeciesPart(
                species=owner,
                part=_pick(name, parts, code, "part"),
                worth_keeping=code not in row["to_grind"],
                source=row["source"],
            )
            for code in row["parts"]
        ]
    count = _upsert(name, SpeciesPart, found, ["species", "part"])
    _drop_others(SpeciesPart, {(row.species_id, row.part_id) for row in found}, ("species_id", "part_id"))
    return count


def _load_house_cuts(folder: Path) -> int:
    """House cuts are the shop's own: missing ones are added, none is overwritten."""
    name = "house_cuts.json"
    details = ("thickness_16ths", "pieces_per_pack", "pack_oz", "fat_bp", "fat_kind")
    rows = _read(folder, name, ("species", "part", "choice"), details)
    species, parts, choices = _by_code(Species), _by_code(Part), _by_code(Choice)
    have = set(HouseCut.objects.values_list("species_id", "part_id"))
    found: dict[tuple[int | None, int], HouseCut] = {}
    for row in rows:
        owner = _pick(name, species, row["species"], "species") if row["species"] else None
        part, choice = _pick(name, parts, row["part"], "part"), _pick(name, choices, row["choice"], "choice")
        if not part.choices.contains(choice):
            raise CatalogError(f"{name}: {part.code} is not made as {choice.code}.")
        key = (owner.pk if owner else None, part.pk)
        if key in found:
            raise CatalogError(f"{name}: {part.code} of {row['species'] or 'any species'} stands twice.")
        given = {detail: row[detail] for detail in details if detail in row}
        found[key] = HouseCut(species=owner, part=part, choice=choice, **given)
    HouseCut.objects.bulk_create(cut for key, cut in found.items() if key not in have)
    return len(rows)


def _load_forms(folder: Path) -> int:
    name = "piece_forms.json"
    flags = {"is_kept_part": False, "is_boneless": False, "is_whole": False, "bring_in": True}
    rows = _read(folder, name, ("code", "name", "name_es", "parts"), tuple(flags))
    count = _upsert(
        name,
        PieceForm,
        (
            PieceForm(
                code=row["code"],
                name=row["name"],
                name_es=row["name_es"],
                sort=sort,
                **{flag: row.get(flag, usual) for flag, usual in flags.items()},
            )
            for sort, row in enumerate(rows)
        ),
        ["code"],
    )
    forms, parts = _by_code(PieceForm), _by_code(Part)
    for row in rows:
        forms[row["code"]].parts.set([_pick(name, parts, code, "part") for code in row["parts"]])
    return count


def _load_reasons(folder: Path) -> int:
    """Reasons are what the shop's rules allow: missing ones are added, none is overwritten."""
    name = "no_tag_reasons.json"
    rows = _read(folder, name, ("code", "sentence"))
    have = set(NoTagReason.objects.values_list("code", flat=True))
    new = [NoTagReason(code=row["code"], sentence=row["sentence"]) for row in rows if row["code"] not in have]
    _upsert(name, NoTagReason, new, ["code"])
    return len(rows)


def _load_figures(folder: Path) -> int:
    """Figures follow the file, but a shop's own values are never overwritten.

    A figure that the file has no longer goes, unless the shop has ever set its own of it.
    """
    name = "yield_figures.json"
    rows = _read(folder, name, (*FIGURE_NEEDED, "species", "part"), FIGURE_OPTIONAL)
    species, parts = _by_code(Species), _by_code(Part)
    found, keys = [], set()
    for row in rows:
        if said := _wrong_figure(row):
            raise CatalogError(f"{name}, {row['code']}: {said}.")
        key = tuple(row.get(field, "") for field in ("species", "part", "quantity", "sex", "age_class"))
        if key in keys:
            raise CatalogError(f"{name}, {row['code']}: another row is of the same quantity.")
        keys.add(key)
        owner = _pick(name, species, row["species"], "species") if row["species"] else None
        part = _pick(name, parts, row["part"], "part") if row["part"] else None
        given = {field: row[field] for field in (*FIGURE_NEEDED, *FIGURE_OPTIONAL) if field in row}
        found.append(YieldFigure(species=owner, part=part, **given))
    own = ("override_bp", "override_low_bp", "override_high_bp")
    count = _upsert(name, YieldFigure, found, ["code"], never=own)
    gone = YieldFigure.objects.exclude(code__in=[row["code"] for row in rows])
    gone.filter(override_bp=None, changes=None).delete()
    return count


def _wrong_figure(row: Row) -> str:
    """What is wrong with a yield figure; nothing when nothing is."""
    contains, lent = row.get("contains", []), bool(row.get("lent_by"))
    if row["quantity"] not in QUANTITIES:
        return f"the quantity “{row['quantity']}” is not known"
    if not 0 <= row["low_bp"] <= row["likely_bp"] <= row["high_bp"] <= most_bp(row["quantity"]):
        return "low, likely and high are not in order"
    if not row["source"].strip():
        return "the source is missing"
    if stray := set(contains) - set(LOSSES):
        return f"the loss {', '.join(sorted(stray))} is not known"
    if bool(row.get("aged_days", 0)) != ("drying" in contains):
        return "what contains drying says of how many days, and nothing else does"
    if bool(row.get("shot_loss_base")) != (row["quantity"] == "shot_loss" or "shot loss" in contains):
        return "a shot loss, stated or contained, says what it is a share of, and nothing else does"
    if (row["grade"] == "borrowed") != lent:
        return "what is borrowed says of whom, and nothing else does"
    return ""


def _drop_others(model: type[models.Model], keep: set[tuple[Any, ...]], fields: Sequence[str]) -> None:
    """Delete rows that no file names any more (only of tables that nothing else points at)."""
    rows = model._default_manager.values_list("pk", *fields)
    model._default_manager.filter(pk__in=[pk for pk, *key in rows if tuple(key) not in keep]).delete()
