"""What is written down about a hunter and an animal, checked the same way from every screen."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import phonenumbers
from django.utils import timezone

from orders.intake.models import AgeClass, Contact, DiseaseTest, Region, Sex, WeightBasis
from orders.ledger.refusal import Refusal

# A plus and at most fifteen digits: ITU-T E.164.
E164_LENGTH = 16


def search_form(name: str) -> str:
    """A name as it is searched: lower case, no accents, single spaces."""
    bare = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode() or name
    return " ".join(bare.lower().split())[:80]


def phone_e164(typed: str, region: str = "US") -> str:
    """A phone number as typed in E.164, or empty. Raises Refusal `phone_wrong` beside the field."""
    if not typed.strip():
        return ""
    try:
        number = phonenumbers.parse(typed, region)
    except phonenumbers.NumberParseException:
        number = None
    # Possible rather than valid: the numbers kept for examples (555-01xx) are not assigned to anybody.
    found = phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164) if number else ""
    if number is None or not phonenumbers.is_possible_number(number) or len(found) > E164_LENGTH:
        raise Refusal(
            "phone_wrong", f"“{typed.strip()}” is not a phone number. Read it back digit by digit.", "phone"
        )
    return found


def phone_shown(e164: str) -> str:
    """A stored number as a person reads it: `(406) 555-0142` at home, international elsewhere."""
    if not e164:
        return ""
    number = phonenumbers.parse(e164)
    style = phonenumbers.PhoneNumberFormat.NATIONAL if number.country_code == 1 else None
    return phonenumbers.format_number(number, style or phonenumbers.PhoneNumberFormat.INTERNATIONAL)


@dataclass(frozen=True, slots=True)
class HunterFacts:
    name: str
    phone: str = ""
    email: str = ""
    address: str = ""
    license_no: str = ""


@dataclass(frozen=True, slots=True)
class AnimalFacts:
    """Everything asked about an animal at the counter. Empty means not answered, and stays owed."""

    taker: Contact | None = None
    sex: str = Sex.UNKNOWN
    age_class: str = AgeClass.UNKNOWN
    license_no: str = ""
    killed_on: date | None = None
    kill_place: str = ""
    weight_basis: str = WeightBasis.DRESSED_FEET_ON
    dirty: bool = False
    gut_shot: bool = False
    warm: bool = False
    condition_note: str = ""
    regions_hit: tuple[str, ...] = ()
    tenderloin_left: str = ""
    tenderloin_right: str = ""
    keep_head: str = ""
    keep_cape: str = ""
    keep_hide: str = ""
    keep_organs: str = ""
    disease_test: str = DiseaseTest.NONE
    sample_no: str = ""
    bird_count: int | None = None

    def check(self, arrived_at: datetime) -> None:
        """Refuse what cannot be: a kill in the future or after the arrival, an unknown region, a sample unnumbered."""
        arrived_on = timezone.localdate(arrived_at)
        if self.killed_on and self.killed_on > timezone.localdate():
            raise Refusal("killed_in_future", "The date of kill is in the future.", "killed_on")
        if self.killed_on and self.killed_on > arrived_on:
            raise Refusal(
                "killed_after_arrival", "The date of kill is after the day it came in.", "killed_on"
            )
        if set(self.regions_hit) - set(Region.values):
            raise Refusal("region_unknown", "This is not a region that is asked about.", "regions_hit")
        if self.disease_test == DiseaseTest.SAMPLED and not self.sample_no:
            raise Refusal("sample_unnumbered", "A sample was taken: write down its number.", "sample_no")

    def over(self, shown: AnimalFacts, now: AnimalFacts) -> AnimalFacts:
        """These facts as typed over those that were `shown`, on what is written `now`.

        What was left as it was shown keeps what somebody else has written meanwhile. Raises Refusal
        `changed_meanwhile` where both have changed the same fact, and not to the same.
        """
        merged = {}
        for name in self.__slots__:
            typed, before, written = getattr(self, name), getattr(shown, name), getattr(now, name)
            if typed != before and written not in (before, typed):
                words = name.replace("_", " ")
                raise Refusal(
                    "changed_meanwhile",
                    f"Somebody has changed the {words} meanwhile. Look at what is there, and correct it again.",
                    name,
                )
            merged[name] = written if typed == before else typed
        return AnimalFacts(**merged)

    def values(self) -> dict[str, Any]:
        """Column values for an Animal."""
        found = {name: getattr(self, name) for name in self.__slots__}
        found["regions_hit"] = list(self.regions_hit)
        return found
