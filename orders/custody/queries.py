"""The custody register: every animal that came in within a range of days, from whom, and what became of it.

The columns are a superset of what states ask of processors and cold stores (14 CCR 711 of California, 41:06:03:11 of
South Dakota, 50 CFR 20.82 for migratory birds); local rules decide which of them a shop must keep, and how long.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, fields
from datetime import date, datetime

from django.db.models import Count, Q
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.text import get_text_list

from orders.intake.models import Animal, DiseaseTest, Season, Sex, State
from orders.ledger.models import (
    BODY_KINDS,
    ENDED,
    Event,
    Movement,
    Outcome,
    Piece,
    PieceKind,
    PieceState,
)
from orders.pickup.models import Release

MISSING = "MISSING"
NONE = "—"
HERE = "here"
# A body that was not cut up yet.
AS_IT_CAME = (PieceState.RECEIVED, PieceState.HANGING, PieceState.TABLE)
MOST_DAYS = 800


@dataclass(frozen=True, slots=True)
class RegisterRow:
    """One animal. An empty cell is missing; what does not apply is a dash."""

    number: str
    date_in: str
    from_whom: str
    taker: str
    address: str
    license: str
    tag: str
    species: str
    sex: str
    count: str
    killed_on: str
    kill_place: str
    sample: str
    date_out: str
    to_whom: str

    @property
    def missing(self) -> list[str]:
        """The columns in which something is missing."""
        return [COLUMNS[f.name] for f in fields(self) if not getattr(self, f.name)]

    @property
    def cells(self) -> list[str]:
        """All values, in the order of COLUMNS."""
        return [getattr(self, f.name) for f in fields(self)]


COLUMNS = {
    "number": "Order",
    "date_in": "Date in",
    "from_whom": "Brought by",
    "taker": "Taken by",
    "address": "Address of taker",
    "license": "License",
    "tag": "Tag, or reason",
    "species": "Species",
    "sex": "Sex",
    "count": "Count",
    "killed_on": "Killed",
    "kill_place": "Where killed",
    "sample": "Sample",
    "date_out": "Date out",
    "to_whom": "To whom",
}


@dataclass(slots=True)
class _Left:
    """What is known of an animal's leaving."""

    last: datetime | None = None
    names: tuple[str, ...] = ()


@dataclass(slots=True)
class _Ended:
    """What is known of an animal that ended early: how, who hauled what was left, and whether any of it is here."""

    event: Event
    hauled: Event | None = None
    here: bool = False


def register_rows(first: date, last: date) -> list[RegisterRow]:
    """Every animal received from `first` to `last` in the shop's zone, in the order of arrival; incomplete ones too."""
    animals = list(
        Animal.objects.filter(arrived_on__range=(first, last))
        .select_related("order__hunter", "species", "taker", "no_tag_reason")
        .order_by("arrived_at", "id")
    )
    left = _left([animal.order_id for animal in animals])
    ended = _ended([animal.pk for animal in animals if animal.ended])
    here = _here(animals)
    return [
        _row(animal, left.get(animal.pk, _Left()), ended.get(animal.pk), here.get(animal.pk, HERE))
        for animal in animals
    ]


def _here(animals: list[Animal]) -> dict[int, str]:
    """By animal that is in the shop: how much of it, and where: `here: 6 birds, at Rack 1`; `here, at Rail A`."""
    ids = [animal.pk for animal in animals if not animal.ended and animal.state != State.COLLECTED]
    orders = {animal.order_id for animal in animals if animal.pk in set(ids)}
    pieces = Piece.objects.exclude(state__in=ENDED).exclude(container__state__in=ENDED)
    # Sixty packs in one box are one place; by keys, since an OR over a join would read every piece there is.
    pieces = pieces.filter(Q(animal__in=ids) | Q(order__in=orders)).exclude(kind=PieceKind.BOX).order_by()
    at: dict[tuple[int | None, int | None], set[str]] = defaultdict(set)
    places = Coalesce("place__name", "container__place__name")
    for animal_id, order_id, place in pieces.values_list("animal_id", "order_id", places).distinct():
        at[animal_id, order_id].add(place)
    whole = Piece.objects.filter(animal__in=ids, kind__in=BODY_KINDS, state__in=AS_IT_CAME).order_by()
    bodies = dict(whole.values_list("animal_id").annotate(count=Count("id")))
    return {
        animal.pk: _here_words(
            animal, bodies.get(animal.pk, 0), at[animal.pk, None] | at[None, animal.order_id]
        )
        for animal in animals
        if animal.pk in set(ids)
    }


def _here_words(animal: Animal, bodies: int, places: set[str]) -> str:
    count = ""
    if bodies and animal.species.is_bird:
        count = f": {animal.bird_count or 1} bird{'' if (animal.bird_count or 1) == 1 else 's'}"
    elif bodies > 1:
        count = f": {bodies} pieces"
    where = f", at {get_text_list(sorted(places), 'and')}" if places else ""
    return f"{HERE}{count}{where}"


def _left(order_ids: list[int]) -> dict[int, _Left]:
    """By animal: when its last piece left, and with whom. A box counts for every animal with a pack in it."""
    releases = {
        release.event_id: release
        for release in Release.objects.filter(order__in=order_ids)
        .select_related("event")
        .order_by("at", "id")
    }
    moved = Movement.objects.filter(event__release__order__in=order_ids, state_to=PieceState.COLLECTED)
    rows = list(moved.values_list("event_id", "piece_id", "piece__animal_id", "piece__order_id"))
    boxes = [piece for _, piece, animal, _ in rows if animal is None]
    inside: dict[int, set[tuple[int | None, int | None]]] = defaultdict(set)
    packs = Piece.objects.filter(container__in=boxes).exclude(state=PieceState.VOID)
    for box, animal, order in packs.values_list("container_id", "animal_id", "order_id"):
        inside[box].add((animal, order))
    together = _animals_of_orders([order for members in inside.values() for _, order in members if order])
    found: dict[int, list[Release]] = defaultdict(list)
    for event, piece, animal, _order in rows:
        members = {(animal, None)} if animal else inside[piece]
        for key, order_id in members:
            for each in [key] if key else together[order_id or 0]:
                found[each].append(releases[event])  # type: ignore[index]
    return {animal: _summed(handed) for animal, handed in found.items()}


def _animals_of_orders(order_ids: list[int]) -> dict[int, list[int]]:
    """Packs made together belong to every animal of their order that has not ended."""
    found: dict[int, list[int]] = defaultdict(list)
    for order, animal in Animal.objects.filter(order__in=order_ids, ended="").values_list("order_id", "pk"):
        found[order].append(animal)
    return found


def _summed(handed: list[Release]) -> _Left:
    ordered = sorted(handed, key=lambda release: (release.at, release.pk))
    return _Left(ordered[-1].at, tuple(dict.fromkeys(release.collected_by for release in ordered)))


def _ended(animal_ids: list[int]) -> dict[int, _Ended]:
    """By animal: how it ended early, and what became of it since."""
    verbs = ("end_animal", "haul_ended")
    events = Event.objects.filter(animal__in=animal_ids, verb__in=verbs, outcome=Outcome.OK).order_by("id")
    found: dict[int, _Ended] = {}
    for event in events:
        assert event.animal_id is not None
        if event.verb == "end_animal":
            found[event.animal_id] = _Ended(event)
        else:
            found[event.animal_id].hauled = event
    here = Piece.objects.filter(animal__in=animal_ids).exclude(state__in=ENDED)
    for animal in here.values_list("animal_id", flat=True).distinct():
        if animal in found:
            found[animal].here = True
    return found


def _row(animal: Animal, left: _Left, ended: _Ended | None, here: str) -> RegisterRow:
    order = animal.order
    date_out, to_whom = _disposal(animal, left, ended, here)
    taker = animal.taker
    return RegisterRow(
        number=animal.label,
        date_in=_day(animal.arrived_at),
        from_whom=order.dropped_off_by or str(order.hunter or ""),
        taker=taker.name if taker else "",
        address=taker.address if taker else "",
        license=animal.license_no or (taker.license_no if taker else ""),
        tag=animal.tag_no or str(animal.no_tag_reason or ""),
        species=animal.species.name,
        sex=NONE if animal.species.is_bird and animal.sex == Sex.UNKNOWN else animal.get_sex_display(),
        count=str(animal.bird_count or "") if animal.species.is_bird else "1",
        killed_on=animal.killed_on.isoformat() if animal.killed_on else "",
        kill_place=animal.kill_place,
        sample=animal.sample_no or ("" if animal.disease_test != DiseaseTest.NONE else NONE),
        date_out=date_out,
        to_whom=to_whom,
    )


def _disposal(animal: Animal, left: _Left, ended: _Ended | None, here: str) -> tuple[str, str]:
    """Date out and to whom: a dash and `here` in words while it is here, `in part` while some of it is."""
    if ended is not None:
        return _ended_disposal(animal, left, ended)
    names = ", ".join(left.names)
    if left.last is None:
        if animal.order.closed_at:
            return _day(animal.order.closed_at), f"order closed: {animal.order.close_reason}"
        return NONE, here
    if animal.state == State.COLLECTED:
        return _day(left.last), names
    return f"{_day(left.last)} in part", f"{names}; the rest is {here}"


def _ended_disposal(animal: Animal, left: _Left, ended: _Ended) -> tuple[str, str]:
    """As `_disposal`, for what was refused, spoiled or void: why, and who has it or hauled it."""
    words = [ended.event.shown.partition(" is ")[2] or animal.get_state_display()]
    if left.names:
        words.append(f"handed over to {', '.join(left.names)}")
    if ended.hauled is not None:
        words.append(ended.hauled.shown.partition(" is ")[2])
    if ended.here:
        return NONE, "; ".join([*words, "still here"])
    gone = [left.last, ended.hauled.at if ended.hauled else None]
    last = max((moment for moment in gone if moment is not None), default=ended.event.at)
    return _day(last), "; ".join(words)


def _day(moment: datetime) -> str:
    return timezone.localtime(moment).date().isoformat()


def usual_range() -> tuple[date, date]:
    """From the beginning of the present season to today; without a season, the last ninety days."""
    today = timezone.localdate()
    season = Season.objects.filter(starts_on__lte=today).order_by("-starts_on").first()
    first = season.starts_on if season else date.fromordinal(today.toordinal() - 90)
    return first, today
