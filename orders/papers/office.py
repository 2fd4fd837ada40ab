"""Papers of the pickup counter and the office: receipt, register, cards of places and people."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from orders.custody.queries import COLUMNS, RegisterRow
from orders.ledger.models import Piece, PieceKind, PieceState
from orders.packing.models import Package
from orders.papers.common import (
    capital,
    day_time,
    hunter_of,
    order_values,
    shop_values,
    species_of,
    tag_of,
    weight_text,
)
from orders.pickup.models import Release
from orders.pickup.queries import pieces_left
from orders.yields.queries import Yield
from shop.codes import spaced
from shop.context import shop_settings
from shop.models import Person, Place, Station
from shop.weights import format_mg

RETENTION = (
    "Nothing is removed from this register. How long it has to be kept is set by the place the shop is in: "
    "local rules and licensed practice decide."
)


# --- receipt ---------------------------------------------------------------------------------------------------


def receipt(release: Release) -> dict[str, Any]:
    """One handing over: what left with it, what was still in the shop when it was printed."""
    order = release.order
    pieces = list(
        Piece.objects.filter(movements__event__uid=release.event_id, movements__state_to=PieceState.COLLECTED)
        .distinct()
        .order_by("kind", "n")
    )
    packs = _packs_by_piece(pieces)
    animals = list(
        order.animals.exclude(ended="void").select_related("species", "no_tag_reason").order_by("n")
    )
    address = order.hunter.address if order.hunter else ""
    return {
        **order_values(order),
        **shop_values(),
        "shop_phone": shop_settings().phone,
        "number": f"{order.number}-{release.n}",
        "owner": ", ".join(part for part in (hunter_of(order), address) if part),
        "animals": [f"{1 if not a.species.is_bird else ''} {species_of(a)}".strip() for a in animals],
        "tags": ", ".join(tag_of(animal) for animal in animals),
        "leaving": [_leaving(piece, packs.get(piece.pk, [])) for piece in pieces],
        "total": _total(pieces, packs),
        "remains": ", ".join(piece.name for piece in pieces_left(order) if not piece.container_id)
        or "Nothing is left in the shop.",
        "collector": release.collector,
        "clerk": str(release.person),
        "at": day_time(release.at),
        "note": f"{release.collector} is not among those who may collect: {release.vouched}."
        if release.vouched
        else "",
        "mark": release.mark,
        "initials": release.initials,
    }


def _packs_by_piece(pieces: Sequence[Piece]) -> dict[int, list[int | None]]:
    """By box or single pack: the weights of the packs in it, None where one was not weighed."""
    found: dict[int, list[int | None]] = {}
    keys = [piece.pk for piece in pieces]
    inside = Package.objects.filter(piece__container__in=keys).exclude(piece__state=PieceState.VOID)
    for box, mg in inside.values_list("piece__container_id", "weighing__mg"):
        found.setdefault(box or 0, []).append(mg)
    for key, mg in Package.objects.filter(piece__in=keys).values_list("piece_id", "weighing__mg"):
        found.setdefault(key, []).append(mg)
    return found


def _leaving(piece: Piece, packs: list[int | None]) -> dict[str, str]:
    count = f"{len(packs)} package{'' if len(packs) == 1 else 's'}" if packs else "1"
    return {
        "what": capital(piece.name),
        "count": count,
        "weight": _weight_of(packs),
        "code": spaced(piece.code),
    }


def _weight_of(packs: list[int | None]) -> str:
    """The packs' weight with the label's decimals; empty for kept parts, `not weighed` where one pack was not."""
    if not packs:
        return ""
    if None in packs:
        return "not all weighed"
    shop = shop_settings()
    return format_mg(sum(mg for mg in packs if mg is not None), shop.unit, shop.label_decimals)


def _total(pieces: Sequence[Piece], packs: dict[int, list[int | None]]) -> str:
    boxes = sum(piece.kind == PieceKind.BOX for piece in pieces)
    every = [mg for each in packs.values() for mg in each]
    kept = [piece.name for piece in pieces if piece.kind == PieceKind.KEPT]
    parts = [f"{boxes} box{'' if boxes == 1 else 'es'}"] if boxes else []
    if every:
        parts += [f"{len(every)} package{'' if len(every) == 1 else 's'}", _weight_of(every)]
    return ", ".join([*parts, *kept])


# --- yield -----------------------------------------------------------------------------------------------------


def expected_words(found: Yield) -> str:
    """The range in one line, for the cut sheet's paper."""
    if found.estimate is None:
        return ""
    low, likely, high = found.estimate.low_mg, found.estimate.likely_mg, found.estimate.high_mg
    return f"{weight_text(low)} to {weight_text(high)} of boneless meat, likely {weight_text(likely)}"


# --- register and cards ----------------------------------------------------------------------------------------


def custody_register(
    rows: Sequence[RegisterRow], first: date, last: date, printed: datetime
) -> dict[str, Any]:
    """The register of a range of days, incomplete rows too."""
    return {
        **shop_values(),
        "period": f"{first.isoformat()} to {last.isoformat()}",
        "printed": day_time(printed),
        "columns": list(COLUMNS.values()),
        "rows": [row.cells for row in rows],
        "note": RETENTION,
    }


def place_cards() -> list[dict[str, Any]]:
    """Cards of every rail, rack, shelf, hook and table, in their order; what left the shop has no card."""
    return [
        {"code": place.code, "name": place.name, "detail": place.get_kind_display()}
        for place in Place.objects.filter(sink="")
    ]


def station_cards() -> list[dict[str, Any]]:
    return [
        {"code": station.code, "name": station.name, "detail": station.get_step_display()}
        for station in Station.objects.all()
    ]


def badge(person: Person) -> dict[str, Any]:
    return {"badge": person.badge or "", "name": str(person), "shop": shop_settings().name}
