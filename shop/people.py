"""People who work here: what the owner does about them."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.utils.crypto import salted_hmac

from shop.models import Person, Role
from shop.signin import BADGE_LENGTH, hashed_pin, new_badge_digits


class PersonRefused(Exception):  # noqa: N818 - the shop refuses, nothing has failed
    """Why it is not done; the text is a sentence for the person, `field` the form field it stands beside."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.field = field


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of a person. An empty password or PIN leaves what there is."""

    username: str
    first_name: str
    last_name: str
    role: str
    language: str = "en"
    password: str = ""
    pin: str = ""


def add(facts: Facts, *, sender_id: UUID) -> tuple[Person, bool]:
    """Add a person with a badge of their own; returns the person and whether they are new.

    The badge's digits follow from the form's id and the secret key: the same form sent twice adds one person.
    Raises PersonRefused.
    """
    badge = _digits_of(sender_id)
    with transaction.atomic():
        # The same form twice at once: the second waits here for the first.
        _locked_owners()
        first = Person.objects.filter(badge=badge).first()
        if first is not None and first.username == facts.username:
            return first, False
        if Person.objects.filter(username__iexact=facts.username).exists():
            raise PersonRefused("Somebody already has this username. Choose another.", "username")
        person = Person(username=facts.username, badge=badge if first is None else _unused_badge())
        person.set_unusable_password()
        _write(person, facts)
        person.save()
    return person, True


def change(person: Person, facts: Facts) -> None:
    """Change what is known of a person. Raises PersonRefused for the last owner's role."""
    with transaction.atomic():
        _locked_owners()
        row = Person.objects.select_for_update().get(pk=person.pk)
        if facts.role != Role.OWNER:
            _keep_an_owner(row, "role")
        if Person.objects.filter(username__iexact=facts.username).exclude(pk=row.pk).exists():
            raise PersonRefused("Somebody already has this username. Choose another.", "username")
        row.username = facts.username
        _write(row, facts)
        row.save()


def set_active(person: Person, active: bool, *, by: Person) -> bool:
    """Let a person in, or no longer. False when it already was so. Raises PersonRefused."""
    with transaction.atomic():
        _locked_owners()
        row = Person.objects.select_for_update().get(pk=person.pk)
        if not active and row.pk == by.pk:
            raise PersonRefused("You cannot shut yourself out. Another owner can.")
        if not active:
            _keep_an_owner(row)
        return Person.objects.filter(pk=row.pk, is_active=not active).update(is_active=active) == 1


def new_badge(person: Person) -> str:
    """Give a person a new badge; the old one opens nothing from now on. Returns the twelve digits."""
    with transaction.atomic():
        digits = _unused_badge()
        Person.objects.filter(pk=person.pk).update(badge=digits)
    return digits


def _write(person: Person, facts: Facts) -> None:
    person.first_name, person.last_name = facts.first_name, facts.last_name
    person.role, person.language = facts.role, facts.language
    if facts.password:
        person.set_password(facts.password)
    if facts.pin:
        person.pin = hashed_pin(facts.pin)


def _locked_owners() -> None:
    """Two owners who shut each other out at the same moment wait here for one another."""
    list(Person.objects.select_for_update().filter(role=Role.OWNER).order_by("pk"))


def _keep_an_owner(person: Person, field: str = "") -> None:
    others = Person.objects.filter(role=Role.OWNER, is_active=True).exclude(pk=person.pk)
    if person.role == Role.OWNER and person.is_active and not others.exists():
        raise PersonRefused("The shop needs at least one owner who can log in.", field)


def _digits_of(sender_id: UUID) -> str:
    number = int(salted_hmac("shop.people.badge", str(sender_id), algorithm="sha256").hexdigest(), 16)
    return f"{number % 10**BADGE_LENGTH:0{BADGE_LENGTH}d}"


def _unused_badge() -> str:
    while Person.objects.filter(badge=(digits := new_badge_digits())).exists():
        pass
    return digits
