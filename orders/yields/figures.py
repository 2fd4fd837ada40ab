"""The constants of the yield arithmetic, read from the catalog; the shop's own value wins over the published one."""

from __future__ import annotations

from dataclasses import dataclass

from orders.yields.constants import Constants, Share
from shop.models import YieldFigure

TENDERLOINS = "tenderloin"


@dataclass(frozen=True, slots=True)
class Figures:
    """The constants of every species that has them, by the species' id."""

    by_species: dict[int, Constants]

    def of(self, species_id: int) -> Constants | None:
        """The constants of a species; None where nothing is published and nothing was borrowed, as for birds."""
        return self.by_species.get(species_id)


def load_figures() -> Figures:
    """Read all figures in one query."""
    general: dict[str, tuple[Share, str]] = {}
    own: dict[int, dict[str, tuple[Share, str]]] = {}
    tenderloins: dict[int | None, Share] = {}
    for row in YieldFigure.objects.select_related("part").order_by("id"):
        if row.part is not None:
            if row.part.code == TENDERLOINS:
                tenderloins[row.species_id] = share_of(row)
            continue
        into = general if row.species_id is None else own.setdefault(row.species_id, {})
        into[row.quantity] = (share_of(row), row.basis)
    found = {}
    for species_id, figures in own.items():
        bag = tenderloins.get(species_id) or tenderloins.get(None)
        if bag is not None:
            found[species_id] = _constants({**general, **figures}, bag)
    return Figures({species: constants for species, constants in found.items() if constants is not None})


def _constants(figures: dict[str, tuple[Share, str]], tenderloins: Share) -> Constants | None:
    try:
        return Constants.from_figures(figures, tenderloins)
    except KeyError:
        return None


def share_of(row: YieldFigure) -> Share:
    """A figure as a share, around the shop's own value if it has set one."""
    share = Share(row.low_bp, row.likely_bp, row.high_bp, row.source)
    if row.override_bp is None:
        return share
    own = share.around(row.override_bp)
    return Share(own.low_bp, own.likely_bp, own.high_bp, f"the shop's own value; published: {row.source}")
