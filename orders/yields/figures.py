"""The constants of the yield arithmetic, read from the catalog; the shop's own value wins over the published one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from orders.intake.models import Animal
from orders.yields.constants import REGION_QUANTITY, Constants, Figure, Share, Times
from shop.models import YieldFigure

TENDERLOINS = "tenderloin"
# Of all animals, or of one class: an empty sex or age class stands for all of them.
Key = tuple[int | None, str, str]


@dataclass(frozen=True, slots=True)
class Figures:
    """The constants of every species that has figures, by the species' id, and those for any other species."""

    by_species: dict[int, Constants]
    by_class: dict[Key, Constants] = field(default_factory=dict)
    general: Constants | None = None
    parts: dict[int | None, dict[str, Share]] = field(default_factory=dict)

    def of(self, species_id: int, animal_class: str = "") -> Constants | None:
        """The constants of a species and class (`male-adult`), else of the species; None where it has no figure."""
        sex, _, age_class = animal_class.partition("-")
        for key in ((species_id, sex, age_class), (species_id, sex, ""), (species_id, "", age_class)):
            if key in self.by_class:
                return self.by_class[key]
        return self.by_species.get(species_id)

    def of_animal(self, animal: Animal) -> Constants | None:
        """The constants for an animal; a mammal of a species without any figure gets the widened general ones.

        None for birds, and while the catalog is not loaded.
        """
        if animal.species.is_bird:
            return None
        name = animal.species.name
        found = self.of(animal.species_id, f"{animal.sex}-{animal.age_class}") or self.general
        return replace(found, species=name[:1].lower() + name[1:]) if found else None

    def parts_of(self, species_id: int) -> dict[str, Share]:
        """Part code -> its share of the boneless lean, the species' own before that of any."""
        return {**self.parts.get(None, {}), **self.parts.get(species_id, {})}


def load_figures() -> Figures:
    """Read all figures in one query."""
    rows: dict[Key, dict[str, Figure]] = {}
    parts: dict[int | None, dict[str, Share]] = {}
    for row in YieldFigure.objects.select_related("part").order_by("id"):
        if row.part is not None:
            parts.setdefault(row.species_id, {})[row.part.code] = share_of(row)
        else:
            rows.setdefault((row.species_id, row.sex, row.age_class), {})[row.quantity] = figure_of(row)
    return figures_from(rows, parts)


def figures_from(rows: dict[Key, dict[str, Figure]], parts: dict[int | None, dict[str, Share]]) -> Figures:
    """Figures from the rows of each species and class: a class's before its species', a species' before the general."""
    general = rows.get((None, "", ""), {})
    by_species, by_class = {}, {}
    for key in rows:
        species_id, sex, age_class = key
        if species_id is None:
            continue
        levels = [general, rows.get((species_id, "", ""), {}), rows[key]]
        tenderloins = parts.get(species_id, {}).get(TENDERLOINS) or parts.get(None, {}).get(TENDERLOINS)
        found = _constants(levels, tenderloins)
        if found is None:
            continue
        if sex or age_class:
            by_class[key] = found
        else:
            by_species[species_id] = found
    return Figures(by_species, by_class, _constants([general], parts.get(None, {}).get(TENDERLOINS)), parts)


def _constants(levels: Iterable[dict[str, Figure]], tenderloins: Share | None) -> Constants | None:
    """Constants from rows, later ones first; None while a quantity is missing."""
    found: dict[str, Figure] = {}
    for level in levels:
        found |= level
    if tenderloins is None:
        return None
    try:
        return Constants.from_figures(found, tenderloins)
    except KeyError:
        return None


def figure_of(row: YieldFigure) -> Figure:
    """A row as the arithmetic takes it."""
    return Figure(share_of(row), tuple(row.contains), row.aged_days, row.shot_loss_base)


def share_of(row: YieldFigure) -> Share:
    """A figure as a share: the published one, or the shop's own if it has set one."""
    kind = Times if row.quantity.startswith(REGION_QUANTITY) else Share
    share = kind(row.low_bp, row.likely_bp, row.high_bp, row.source, row.lent_by)
    if row.override_bp is None:
        return share
    low, likely, high = share.spread_around(row.override_bp)
    if row.override_low_bp is not None and row.override_high_bp is not None:
        low, high = row.override_low_bp, row.override_high_bp
    return kind(low, likely, high, f"the shop's own value; published: {row.source}", row.lent_by, own=True)
