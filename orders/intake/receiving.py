"""What taking an animal and its pieces in consists of: what is refused at the door, and the rows that are made."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from orders.intake.models import Animal, ArrivedAs, Order, Season
from orders.ledger.entry import Entry
from orders.ledger.models import Piece, PieceKind, PieceState, Point, RunKind
from orders.ledger.refusal import Refusal
from orders.ledger.runs import runs_of
from orders.ledger.scale import OnScale, check_species_weight
from orders.ledger.weights import received_so_far_mg
from shop.models import NoTagReason, PieceForm, Place, Species

UNTAGGED_BIRDS = "Untagged birds cannot be taken in: they need the hunter's tag."
ONE_PIECE = (ArrivedAs.WHOLE, ArrivedAs.SKINNED, ArrivedAs.BIRDS)
# As long as the column that keeps it: some letters have longer capitals.
TAG_KEY_LENGTH = 40
ONE_HEAD = ("head", "antlers")


# --- an animal -------------------------------------------------------------------------------------------------


def refuse_untagged_birds(species: Species, tag_no: str) -> None:
    """50 CFR 20.81: no one may receive or hold untagged migratory birds of another (`untagged_birds`)."""
    if species.is_bird and not tag_no:
        raise Refusal("untagged_birds", UNTAGGED_BIRDS, "tag_no")


def refuse_arrival(
    species: Species, arrived_as: str, no_tag_reason: NoTagReason | None, weight: OnScale | None
) -> None:
    """Refuse a way of coming in that is not this species', a reason given up since, one weight for many pieces."""
    if species.is_bird != (arrived_as == ArrivedAs.BIRDS):
        raise Refusal("arrival_wrong", f"A {species.name.lower()} does not come in that way.", "arrived_as")
    if no_tag_reason is not None and not no_tag_reason.active:
        raise Refusal("reason_inactive", "That reason is not allowed any more.", "no_tag_reason")
    if weight is not None and arrived_as not in ONE_PIECE:
        raise Refusal("weigh_pieces", "It comes in pieces: each is weighed as it is written down.", "weight")


def tag_key(tag_no: str) -> str:
    """A tag's letters and digits alone, so that `WT 10021` and `wt-10021` are one tag."""
    return "".join(filter(str.isalnum, tag_no)).upper()[:TAG_KEY_LENGTH]


def refuse_no_tag(tag_no: str) -> None:
    """A dash or a picture in the tag's place is no tag (`tag_wrong`)."""
    if tag_no and not tag_key(tag_no):
        raise Refusal("tag_wrong", "A tag has letters or digits. Leave it empty if there is none.", "tag_no")


def refuse_tag_twice(tag_no: str, order: Order) -> None:
    """One tag is one animal within a season; one that was refused at the door may come back with it (`tag_taken`)."""
    if not tag_no:
        return
    # Orders are locked one by one; the season is what two orders with the same tag share.
    season = Season.objects.select_for_update().get(pk=order.season_id)
    same = Animal.objects.filter(tag_key=tag_key(tag_no), order__season=season)
    same = same.exclude(ended__in=["void", "refused"])
    other = same.select_related("order").first()
    if other is not None:
        raise Refusal("tag_taken", f"Tag {tag_no} is on {other.label} already.", "tag_no")


def write_animal(entry: Entry, order: Order, values: dict[str, Any], **more: Any) -> Animal:
    """The animal's row, numbered next of its order, with its facts in `values`."""
    entry.animal = Animal.objects.create(
        order=order,
        n=order.animals.count() + 1,
        arrived_at=entry.at,
        arrived_on=timezone.localdate(entry.at),
        tag_key=tag_key(more["tag_no"]),
        **values,
        **more,
    )
    return entry.animal


# --- its pieces ------------------------------------------------------------------------------------------------


def lot_name(count: int | None) -> str:
    """What a lot of birds is called: `6 birds`."""
    return f"{count or 1} bird{'' if (count or 1) == 1 else 's'}"


def receive_whole(entry: Entry, animal: Animal, weight: OnScale | None, place: Place) -> Piece:
    """The one piece that a carcass, or a lot of birds, is."""
    form = PieceForm.objects.filter(is_whole=True).order_by("sort", "id").first()
    name = lot_name(animal.bird_count) if animal.species.is_bird else "carcass"
    kind = PieceKind.BAG if animal.species.is_bird else PieceKind.CARCASS
    return receive(entry, animal, kind, name, form, weight, place)


def receive(
    entry: Entry,
    animal: Animal,
    kind: PieceKind,
    name: str,
    form: PieceForm | None,
    weight: OnScale | None,
    place: Place,
) -> Piece:
    """A piece of the body as it came, with its received weight if it was weighed."""
    piece = entry.new_piece(
        kind, animal, name, form=form, state=PieceState.RECEIVED, place=place, guard=False
    )
    if weight is not None:
        keep_received(entry, animal, piece, weight)
    return piece


def keep_received(entry: Entry, animal: Animal, piece: Piece, weight: OnScale) -> None:
    """Keep a received weight, if the animal can weigh that much with all its pieces."""
    entry.weigh(Point.RECEIVED, weight, animal=animal, piece=piece)
    check_species_weight(animal.species, received_so_far_mg(animal), confirmed=weight.confirmed)


def receive_kept(
    entry: Entry, animal: Animal, name: str, form: PieceForm, weight: OnScale | None, place: Place
) -> Piece:
    """A head, antlers, cape, hide or organs that came apart; its weight does not count as meat."""
    piece = entry.new_piece(
        PieceKind.KEPT, animal, name, form=form, state=PieceState.WAITING, place=place, guard=False
    )
    if weight is not None:
        weighing = entry.weigh(Point.PART_OFF, weight, animal=animal, piece=piece)
        check_species_weight(animal.species, weighing.mg, confirmed=weight.confirmed)
    return piece


def refuse_piece(animal: Animal, form: PieceForm) -> None:
    """Refuse a piece that this animal cannot have brought, or not now."""
    name = form.name.lower()
    if animal.ended:
        raise Refusal("animal_ended", f"{animal.label} is {animal.get_state_display().lower()}.")
    if animal.arrived_as in ONE_PIECE and not form.is_kept_part:
        raise Refusal("came_whole", f"{animal.label} came whole: it brought no {name}.", "form")
    if runs_of(animal, RunKind.CUT).filter(closed_at=None).exists() and not form.is_kept_part:
        raise Refusal("cutting_began", f"{animal.label} is at the block just now.", "form")
    if form.is_whole:
        raise Refusal("form_wrong", "A whole carcass is taken in as a whole animal.", "form")
    boneless = animal.arrived_as in (ArrivedAs.BONELESS, ArrivedAs.TRIM)
    if boneless and not (form.is_boneless or form.is_kept_part):
        raise Refusal("form_wrong", f"{animal.label} came boneless: it brought no {name}.", "form")
    single = form.is_kept_part or "left" in form.code or "right" in form.code
    same = ONE_HEAD if form.code in ONE_HEAD else (form.code,)
    if single and animal.pieces.filter(form__code__in=same).exclude(state=PieceState.VOID).exists():
        raise Refusal("piece_twice", f"{animal.label} has brought its {name} already.", "form")
