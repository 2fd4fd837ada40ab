"""Labels of the cold rooms: lug cards, package labels, box labels."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any

from django.db.models import Max, Q

from orders.custody.book import cut_words
from orders.cutsheets.models import CutLine
from orders.cutsheets.words import percent, thickness_words
from orders.intake.models import Animal, Order
from orders.ledger.models import Contents, Piece, PieceKind, PieceState
from orders.ledger.weights import last_weighing
from orders.packing.models import Package
from orders.papers.common import day, hunter_of, owner_of, reading_text, shop_values, tag_of
from shop.context import shop_settings
from shop.weights import format_mg

OWN = "Own meat"
TOGETHER = "Own meat, this order's animals ground together"


def lug_card(lug: Piece) -> dict[str, Any]:
    """The card of one lug. A lug of animals ground together names them all."""
    order = lug.animal.order if lug.animal else lug.order
    assert order is not None
    animals = [lug.animal] if lug.animal else list(_together(order))
    trim = lug.contents == Contents.GRIND_TRIM
    return {
        "code": lug.code,
        "order": order.number,
        "hunter": owner_of(animals[0]) if len(animals) == 1 else hunter_of(order),
        "species": _joined(animal.species.name for animal in animals),
        "tag": _joined(tag_of(animal) for animal in animals),
        "filed": _joined(animal.tag_filed_at for animal in animals if animal.tag_filed_at),
        "content": lug.get_contents_display(),
        "number": lug.n,
        "weight": reading_text(last_weighing(lug)),
        "animal": animals[0].n,
        "note": _grind_words(animals[0]) if trim else "",
    }


def _together(order: Order) -> Any:
    """The animals whose meat is made together."""
    return (
        order.animals.filter(ended="")
        .select_related("species", "taker", "no_tag_reason", "order__hunter")
        .order_by("n")
    )


def _joined(words: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(words))


def _grind_words(animal: Animal) -> str:
    """What is added to the grind by the cut sheet: `10 % beef fat`."""
    lines = CutLine.objects.filter(
        sheet__animal=animal, sheet__current=True, choice__is_grind=True, fat_bp__gt=0
    )
    return _joined(f"{percent(line.fat_bp)} {line.fat_kind} fat" for line in lines)


def package_labels(packages: Sequence[Package]) -> list[dict[str, Any]]:
    """Labels of packs in the order given; the weight is the scale's reading as packed."""
    of = _last_numbers(packages)
    lines = _cut_lines(packages)
    shop = shop_values()
    return [{**shop, **_package(package, of, lines)} for package in packages]


def with_label_values(packages: Any) -> Any:
    """Packages with everything that their labels say."""
    return packages.select_related(
        "piece",
        "part",
        "choice",
        "weighing",
        "animal__species",
        "animal__taker",
        "animal__order__hunter",
        "order__hunter",
    ).order_by("id")


def _package(package: Package, of: dict[tuple[str, int], int | None], lines: Any) -> dict[str, Any]:
    animal, order = package.animal, package.animal.order if package.animal else package.order
    assert order is not None
    animals = [animal] if animal else list(_together(order))
    fat = package.has_added_fat.replace(" ", " and ")
    owner = owner_of(animal) if animal else hunter_of(order)
    return {
        "code": package.piece.code,
        "order": animal.label if animal else order.number,
        "owner": owner,
        "cut": cut_words(package),
        "style": _style(package, lines.get((package.animal_id, package.part_id, package.choice_id))),
        "net": net_text(package),
        "number": package.n,
        "of": of[_owner_key(package)],
        "packed": day(package.packed_at),
        "species": _joined(each.species.name for each in animals),
        "origin": OWN if animal else TOGETHER,
        "caution": " ".join(dict.fromkeys(each.species.caution for each in animals if each.species.caution)),
        "ingredients": f"Contains added {fat} fat." if fat else "",
    }


def net_text(package: Package) -> str:
    """`1.25 lb` as weighed, `nominal 1 lb` as stated, `count: 4`, or `not weighed`."""
    if package.weighing is not None:
        return reading_text(package.weighing)
    return f"count: {package.count}" if package.count else "not weighed"


def _style(package: Package, line: CutLine | None) -> str:
    thick = thickness_words(line.thickness_16ths) if line and line.thickness_16ths else ""
    count = f"{package.count} in the pack" if package.count and package.weighing is not None else ""
    return ", ".join(part for part in (thick, count) if part)


def _owner_key(package: Package) -> tuple[str, int]:
    return ("animal", package.animal_id) if package.animal_id else ("order", package.order_id or 0)


def _last_numbers(packages: Sequence[Package]) -> dict[tuple[str, int], int | None]:
    """The last pack number of each owner once its wrap is done; None while it is not, or where numbers are void."""
    keys = {_owner_key(package) for package in packages}
    found: dict[tuple[str, int], int | None] = {}
    for owner, key in keys:
        rows = Package.objects.filter(**{owner: key})
        unfinished = rows.filter(run__closed_at=None).exists()
        void = rows.filter(piece__state=PieceState.VOID).exists()
        found[owner, key] = None if unfinished or void else rows.aggregate(last=Max("n"))["last"]
    return found


def _cut_lines(packages: Sequence[Package]) -> dict[tuple[int | None, int, int], CutLine]:
    """The cut sheet's line of each animal, part and choice."""
    animals = {package.animal_id for package in packages if package.animal_id}
    lines = CutLine.objects.filter(sheet__animal__in=animals, sheet__current=True).select_related("sheet")
    return {(line.sheet.animal_id, line.part_id, line.choice_id): line for line in lines}


def box_label(box: Piece) -> dict[str, Any]:
    """The box's label with the list of what is in it; weights are added up where every pack was weighed."""
    order = box.order
    assert order is not None
    packages = list(
        Package.objects.filter(piece__container=box)
        .exclude(piece__state=PieceState.VOID)
        .select_related("part", "choice", "weighing")
        .order_by("part__sort", "choice__sort", "n")
    )
    by_cut: dict[str, list[Package]] = defaultdict(list)
    for package in packages:
        by_cut[cut_words(package)].append(package)
    boxes = order.pieces.filter(kind=PieceKind.BOX).exclude(state=PieceState.VOID)
    filled = boxes.filter(Q(inside__isnull=False) | Q(pk=box.pk)).distinct().order_by("n")
    numbers = list(filled.values_list("pk", flat=True))
    many = f"{len(packages)} package{'' if len(packages) == 1 else 's'}"
    total = _sum_text(packages)
    return {
        "code": box.code,
        "order": order.number,
        "hunter": hunter_of(order),
        "number": numbers.index(box.pk) + 1,
        "of": len(numbers),
        "lines": [
            {"cut": cut, "count": len(each), "weight": _sum_text(each)} for cut, each in by_cut.items()
        ],
        "total": ", ".join(part for part in (many, total) if part),
        "packed": day(max(package.packed_at for package in packages)) if packages else "",
        "shop": ", ".join(part for part in shop_values().values() if part),
    }


def _sum_text(packages: Sequence[Package]) -> str:
    """The weight of packs with the label's decimals; says how many were counted only."""
    weights = [package.weighing.mg for package in packages if package.weighing is not None]
    unweighed = len(packages) - len(weights)
    shop = shop_settings()
    text = format_mg(sum(weights), shop.unit, shop.label_decimals) if weights else ""
    if not unweighed:
        return text
    return f"{text}, {unweighed} not weighed" if text else "not weighed"
