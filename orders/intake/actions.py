"""What the clerk does at the tailgate and the counter."""

from __future__ import annotations

from django.db.models import Q

from orders.intake.arrival import body_ids
from orders.intake.facts import AnimalFacts, HunterFacts, phone_e164, search_form
from orders.intake.models import Animal, Contact, DiseaseTest, Order, Season, Tenderloin
from orders.intake.receiving import (
    ONE_PIECE,
    keep_received,
    lot_name,
    receive,
    receive_kept,
    receive_whole,
    refuse_arrival,
    refuse_no_tag,
    refuse_piece,
    refuse_tag_twice,
    refuse_untagged_birds,
    tag_key,
    write_animal,
)
from orders.ledger.action import action
from orders.ledger.entry import Answer, Entry
from orders.ledger.holds import put_hold
from orders.ledger.models import (
    BODY_KINDS,
    ENDED,
    HoldKind,
    Piece,
    PieceKind,
    PieceState,
    Point,
    Run,
    RunKind,
)
from orders.ledger.refusal import Refusal
from orders.ledger.runs import close_run, is_skinned
from orders.ledger.scale import OnScale, one_division_mg
from orders.ledger.weights import last_weighing, pooled_animals, refuse_less_than_packed
from shop.codes import Kind
from shop.counters import new_codes, take
from shop.models import NoTagReason, PieceForm, Place, Species
from shop.places import shop_settings, sink
from shop.weights import format_mg

# A path has 256 characters, two of them brackets: RFC 5321, 4.5.3.1.3, as corrected by an erratum (from memory).
MAX_EMAIL = 254


@action("new_order")
def new_order(entry: Entry, season: Season, *, rush: bool = False) -> Answer:
    """The next order number of a season, before anything else is known."""
    seq = take(f"season-{season.pk}")
    entry.order = Order.objects.create(
        code=new_codes(Kind.ORDER)[0],
        season=season,
        seq=seq,
        number=f"{season.short}-{seq:04d}",
        created_at=entry.at,
        created_by=entry.by.person,
        rush=rush,
    )
    return Answer(f"Order {entry.order.number}.", {"order": entry.order.pk})


@action("name_hunter")
def name_hunter(
    entry: Entry, order: Order, *, contact: Contact | None = None, facts: HunterFacts | None = None
) -> Answer:
    """Write down whose order it is: a known hunter, corrected if facts are given too, or a new one."""
    order = entry.about(order)
    if facts is not None:
        values = {
            "name": facts.name.strip()[:80],
            "phone": phone_e164(facts.phone, shop_settings().region),
            "email": facts.email.strip(),
            "address": facts.address.strip()[:200],
            "license_no": facts.license_no.strip()[:40],
            "search": search_form(facts.name),
        }
        if not values["name"]:
            raise Refusal("name_missing", "Write down the hunter's name.", "name")
        if len(values["email"]) > MAX_EMAIL:
            raise Refusal("email_wrong", "No email address is that long.", "email")
        if contact is None:
            contact = Contact.objects.create(**values)
        else:
            entry.data["before"] = Contact.objects.values(*values).get(pk=contact.pk)
            Contact.objects.filter(pk=contact.pk).update(**values)
    if contact is None:
        raise Refusal("name_missing", "Write down the hunter's name.", "name")
    Order.objects.filter(pk=order.pk).update(hunter=contact)
    # An animal that was put down as the hunter's follows when somebody else turns out to be the hunter.
    mine = Q(taker=None) | Q(taker=order.hunter_id) if order.hunter_id else Q(taker=None)
    order.animals.filter(mine).update(taker=contact)
    return Answer(f"{order.number} is {facts.name if facts else contact.name}'s.", {"contact": contact.pk})


@action("record_order")
def record_order(
    entry: Entry,
    order: Order,
    *,
    dropped_off_by: str = "",
    may_collect: str = "",
    note: str = "",
    rush: bool = False,
    grind_together: bool = False,
    promised_on: object = None,
) -> Answer:
    """Who dropped it off, who may collect, and what concerns the whole order. Grind together only before grinding."""
    order = entry.about(order)
    whose = Q(animal__order=order) | Q(order=order)
    ground = Run.objects.filter(whose, kind=RunKind.GRIND, put_back=False).exists()
    if ground and grind_together != order.grind_together:
        raise Refusal("grind_began", "Grinding has begun: it stays as it was agreed.", "grind_together")
    Order.objects.filter(pk=order.pk).update(
        dropped_off_by=dropped_off_by.strip()[:80],
        may_collect=may_collect.strip()[:160],
        note=note.strip()[:80],
        rush=rush,
        grind_together=grind_together,
        promised_on=promised_on,
    )
    return Answer(f"{order.number} is written down.")


@action("add_animal")
def add_animal(
    entry: Entry,
    order: Order,
    *,
    species: Species,
    arrived_as: str,
    facts: AnimalFacts,
    place: Place,
    tag_no: str = "",
    no_tag_reason: NoTagReason | None = None,
    weight: OnScale | None = None,
) -> Answer:
    """Take an animal in. One that comes whole is a piece at once; quarters and bags follow with `bring_piece`.

    Without a tag and without a reason the shop allows it is written down but not received. Untagged birds are
    refused (50 CFR 20.81: no one may receive or hold untagged migratory birds of another).
    """
    order = entry.about(order)
    tag_no = tag_no.strip()[:40]
    # What cannot be here at all is said before anything else about it.
    refuse_no_tag(tag_no)
    refuse_untagged_birds(species, tag_no)
    refuse_arrival(species, arrived_as, no_tag_reason, weight)
    facts.check(entry.at)
    refuse_tag_twice(tag_no, order)
    animal = write_animal(
        entry,
        order,
        {**facts.values(), "taker": facts.taker or order.hunter},
        species=species,
        arrived_as=arrived_as,
        tag_no=tag_no,
        no_tag_reason=None if tag_no else no_tag_reason,
    )
    refs = {"animal": animal.pk}
    if arrived_as in ONE_PIECE:
        refs["piece"] = receive_whole(entry, animal, weight, place).pk
    if facts.disease_test != DiseaseTest.NONE and shop_settings().hold_for_test:
        put_hold(entry, animal, HoldKind.DISEASE_TEST, facts.sample_no and f"sample {facts.sample_no}")
    shown = f"{animal.label}: {species.name} taken in."
    if not animal.has_tag:
        shown = f"{animal.label}: {species.name} is here but not received: the tag is missing."
    return Answer(shown, refs)


@action("bring_piece")
def bring_piece(
    entry: Entry, animal: Animal, *, form: PieceForm, place: Place, weight: OnScale | None = None
) -> Answer:
    """One more piece of an animal that came as pieces: a quarter, a bag, a head; each with its own weight and tag."""
    entry.about(animal)
    refuse_piece(animal, form)
    name = form.name.lower()
    if form.is_kept_part:
        piece = receive_kept(entry, animal, name, form, weight, place)
    else:
        kind = PieceKind.BAG if form.is_boneless else PieceKind.QUARTER
        piece = receive(entry, animal, kind, name, form, weight, place)
    return Answer(f"{animal.label}: {piece.name} taken in.", {"piece": piece.pk})


@action("all_pieces_in")
def all_pieces_in(entry: Entry, animal: Animal) -> Answer:
    """No more pieces of an animal come: from now on each is one of so many. Another piece, or one less, undoes it."""
    entry.about(animal)
    if animal.ended:
        raise Refusal("animal_ended", f"{animal.label} is {animal.get_state_display().lower()}.")
    if animal.arrived_as in ONE_PIECE:
        raise Refusal("came_whole", f"{animal.label} came whole: it is one piece.")
    body = body_ids(animal)
    if not body:
        raise Refusal("no_pieces", f"{animal.label}: none of its pieces is written down yet.")
    entry.data["pieces"] = body
    return Answer(f"{animal.label}: all is in, {len(body)} piece{'' if len(body) == 1 else 's'}.")


@action("weigh_received")
def weigh_received(entry: Entry, piece: Piece, *, weight: OnScale) -> Answer:
    """Weigh a piece that is here and was not weighed yet; a wrong weight is voided first."""
    entry.about(piece)
    if (
        piece.animal is None
        or piece.kind not in BODY_KINDS
        or piece.state not in (PieceState.RECEIVED, PieceState.HANGING)
    ):
        raise Refusal("not_to_weigh", f"{piece.name} is past the scale at the door.", "weight")
    if piece.weighings.filter(point=Point.RECEIVED, event__voided_by=None).exists():
        raise Refusal(
            "weighed_already", f"{piece.name} is weighed already. Void that weight first.", "weight"
        )
    keep_received(entry, piece.animal, piece, weight)
    hung = last_weighing(piece, Point.HANGING)
    came = weight.net()[2]
    if hung is not None and hung.mg > came.mg + one_division_mg(hung.reading, came):
        said = f"It cannot have come with less than the {format_mg(hung.mg)} that hang."
        raise Refusal("came_less_than_hangs", said, "weight")
    refuse_less_than_packed(piece.animal)
    return Answer(f"{piece.animal.label}: {piece.name} weighed.")


def facts_of(animal: Animal) -> AnimalFacts:
    """The facts as they are written about an animal."""
    written = {name: getattr(animal, name) for name in AnimalFacts.__slots__}
    return AnimalFacts(**{**written, "regions_hit": tuple(animal.regions_hit)})


@action("correct_animal")
def correct_animal(
    entry: Entry, animal: Animal, *, facts: AnimalFacts, shown: AnimalFacts | None = None
) -> Answer:
    """Correct or complete what is written about an animal; what it was before stays in the event.

    `shown` are the facts that were corrected: of what was left as it was shown, nothing is overwritten that somebody
    else has written since (see `AnimalFacts.over`).
    """
    entry.about(animal)
    if shown is not None:
        facts = facts.over(shown, facts_of(animal))
    facts.check(animal.arrived_at)
    values = facts.values()
    values["taker"] = facts.taker or animal.taker
    entry.data["before"] = {name: str(getattr(animal, name)) for name in values}
    if is_skinned(animal):
        late = [
            name for name in ("keep_head", "keep_cape", "keep_hide") if values[name] != getattr(animal, name)
        ]
        if late:
            raise Refusal(
                "skinned_already", "It is skinned already: what is kept cannot change any more.", late[0]
            )
    _refuse_pulled_elsewhere(animal, facts)
    asked = (facts.disease_test, facts.sample_no) != (animal.disease_test, animal.sample_no)
    Animal.objects.filter(pk=animal.pk).update(**values)
    if animal.species.is_bird:
        lot = animal.pieces.filter(kind=PieceKind.BAG, form__is_whole=True)
        lot.update(name=lot_name(facts.bird_count))
    waits = animal.holds.filter(kind=HoldKind.DISEASE_TEST, released_at=None).exists()
    wants = facts.disease_test != DiseaseTest.NONE and shop_settings().hold_for_test
    if asked and wants and not waits:
        put_hold(entry, animal, HoldKind.DISEASE_TEST, facts.sample_no and f"sample {facts.sample_no}")
    return Answer(f"{animal.label} is written down.")


def _refuse_pulled_elsewhere(animal: Animal, facts: AnimalFacts) -> None:
    """A tenderloin that is bagged here was not taken in the field (`pulled_already`)."""
    bags = animal.pieces.filter(kind=PieceKind.TENDERLOIN).exclude(state=PieceState.VOID)
    bagged = " ".join(bags.values_list("name", flat=True))
    for side in ("left", "right"):
        answer = getattr(facts, f"tenderloin_{side}")
        if side in bagged and answer in (Tenderloin.FIELD, Tenderloin.DAMAGED):
            raise Refusal("pulled_already", f"The {side} tenderloin is bagged here.", f"tenderloin_{side}")


@action("record_tag")
def record_tag(
    entry: Entry, animal: Animal, *, tag_no: str = "", no_tag_reason: NoTagReason | None = None
) -> Answer:
    """Record the tag, or the reason the shop's rules allow; only then is the animal received."""
    order = entry.about(animal)
    tag_no = tag_no.strip()[:40]
    if not tag_no and (no_tag_reason is None or not no_tag_reason.active):
        raise Refusal(
            "tag_missing", "Write down the tag number, or choose a reason that the shop allows.", "tag_no"
        )
    refuse_no_tag(tag_no)
    refuse_untagged_birds(animal.species, tag_no)
    if not tag_no and animal.tag_no and animal.runs.filter(put_back=False).exists():
        raise Refusal(
            "tag_recorded", f"Work has begun under tag {animal.tag_no}: correct it, but keep one.", "tag_no"
        )
    if tag_key(tag_no) != animal.tag_key:
        refuse_tag_twice(tag_no, order)
    entry.data["before"] = {"tag_no": animal.tag_no, "no_tag_reason": str(animal.no_tag_reason or "")}
    Animal.objects.filter(pk=animal.pk).update(
        tag_no=tag_no, tag_key=tag_key(tag_no), no_tag_reason=None if tag_no else no_tag_reason
    )
    if animal.tag_no and tag_no != animal.tag_no:
        now = f"to {tag_no}" if tag_no else "to none, with the reason"
        return Answer(f"{animal.label}: tag corrected from {animal.tag_no} {now}.")
    return Answer(f"{animal.label} is received." if tag_no else f"{animal.label} is received without a tag.")


@action("file_tag")
def file_tag(entry: Entry, animal: Animal, *, where: str) -> Answer:
    """Where the state tag is kept when it comes off with the hock."""
    entry.about(animal)
    where = where.strip()[:60]
    if not where:
        raise Refusal("where_missing", "Say where the tag is kept.", "where")
    Animal.objects.filter(pk=animal.pk).update(tag_filed_at=where)
    return Answer(f"{animal.label}: the tag is kept in {where}.")


@action("end_animal")
def end_animal(entry: Entry, animal: Animal, *, ending: str, reason: str) -> Answer:
    """End an animal early: `refused` at the door, `spoiled`, or `void` when it was written down by mistake."""
    entry.about(animal)
    if ending not in ("refused", "spoiled", "void"):
        raise Refusal("ending_unknown", "Choose how it ends.", "ending")
    if not reason.strip():
        raise Refusal("reason_missing", "Say why; the reason is kept.", "reason")
    if animal.ended:
        raise Refusal("animal_ended", f"{animal.label} is {animal.get_state_display().lower()} already.")
    if animal.packages.exclude(piece__state=PieceState.VOID).exists():
        raise Refusal("packed_already", f"{animal.label} has packs: void them first.")
    if pooled_animals(animal.order).filter(pk=animal.pk).exists():
        raise Refusal(
            "pooled_already",
            f"Meat of {animal.label} is ground together with others: put it on hold.",
            "ending",
        )
    _stop_work(entry, animal, reason.strip())
    if ending == "void":
        # What was never there is nowhere: it keeps no order open.
        here = list(animal.pieces.exclude(state__in=ENDED).select_related("container"))
        entry.move(here, state=PieceState.VOID, place=sink("void"), cold=True)
    Animal.objects.filter(pk=animal.pk).update(ended=ending)
    return Answer(f"{animal.label} is {ending}: {reason.strip()}")


def _stop_work(entry: Entry, animal: Animal, reason: str) -> None:
    """Close open jobs: nobody can finish one on an ended animal, and it would keep its station busy for good.

    What lay on the table is put aside where it is, until it is hauled.
    """
    for run in animal.runs.filter(closed_at=None):
        close_run(entry, run, reason)
    for piece in animal.pieces.filter(state=PieceState.TABLE).select_related("place"):
        aside = PieceState.RECEIVED if piece.kind in BODY_KINDS else PieceState.WAITING
        entry.move(piece, state=aside, place=piece.place, cold=True)
