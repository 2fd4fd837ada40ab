"""Who brought what: seasons, contacts, orders and animals."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class State(models.TextChoices):
    """Where an animal or an order stands. Derived from its pieces by `orders.ledger.states`, never set by hand."""

    BOOKED = "booked", "Booked"
    NOT_RECEIVED = "not_received", "Not received: tag missing"
    RECEIVED = "received", "Received"
    SKINNING = "skinning", "Skinning"
    HANGING = "hanging", "Hanging"
    CUTTING = "cutting", "At the block"
    GRINDING = "grinding", "Waiting for the grinder"
    WRAPPING = "wrapping", "Waiting for wrap"
    FREEZING = "freezing", "Packed, to be boxed and frozen"
    READY = "ready", "Ready"
    NOTIFIED = "notified", "Ready, hunter told"
    PARTLY_COLLECTED = "partly_collected", "Partly collected"
    COLLECTED = "collected", "Collected"
    REFUSED = "refused", "Refused at the door"
    SPOILED = "spoiled", "Spoiled"
    VOID = "void", "Void"


class Season(models.Model):
    """A named season; it may run over New Year. `short` leads its order numbers."""

    name = models.CharField(max_length=40, unique=True)
    short = models.CharField(max_length=4, unique=True)
    starts_on = models.DateField()
    ends_on = models.DateField()

    class Meta:
        ordering: ClassVar = ["-starts_on"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_on__gt=F("starts_on")), name="season_ends_after_it_starts"
            )
        ]

    def __str__(self) -> str:
        return self.name


class Contact(models.Model):
    """A hunter or another person. `search` is the name in lower case without accents."""

    name = models.CharField(max_length=80)
    phone = models.CharField(max_length=16, blank=True, help_text="E.164")
    email = models.EmailField(blank=True)
    address = models.CharField(max_length=200, blank=True)
    license_no = models.CharField(max_length=40, blank=True)
    search = models.CharField(max_length=80)

    class Meta:
        # Read by orders.intake.queries.find_contacts.
        indexes = [
            models.Index(fields=["search"], name="contact_search"),
            models.Index(fields=["phone"], name="contact_phone"),
        ]

    def __str__(self) -> str:
        return self.name


class Order(models.Model):
    """One drop-off. `state` and `ready_at` are cached from its pieces."""

    code = models.CharField(max_length=10, unique=True)
    season = models.ForeignKey(Season, on_delete=models.PROTECT, related_name="orders")
    seq = models.PositiveIntegerField()
    number = models.CharField(max_length=12, unique=True, help_text="26-0147")
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    hunter = models.ForeignKey(
        Contact, null=True, blank=True, on_delete=models.PROTECT, related_name="orders"
    )
    dropped_off_by = models.CharField(max_length=80, blank=True, help_text="Empty: the hunter.")
    may_collect = models.CharField(max_length=160, blank=True, help_text="Besides the hunter.")
    grind_together = models.BooleanField(default=False)
    note = models.CharField(max_length=80, blank=True, help_text="Shown loud on the floor.")
    rush = models.BooleanField(default=False)
    promised_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=State.choices, default=State.BOOKED)
    ready_at = models.DateTimeField(null=True, blank=True)
    notified_at = models.DateTimeField(null=True, blank=True)
    amount_cents = models.PositiveIntegerField(null=True, blank=True)
    paid_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    close_reason = models.CharField(max_length=200, blank=True)
    version = models.PositiveIntegerField(default=0, help_text="Counts what was done to it.")

    class Meta:
        ordering: ClassVar = ["-id"]
        constraints = [
            models.UniqueConstraint(fields=["season", "seq"], name="order_number_once"),
            models.CheckConstraint(condition=Q(state__in=State.values), name="order_state_known"),
        ]
        # Read by the counter's board and the pickup table.
        indexes = [models.Index(fields=["state", "ready_at"], name="order_state_ready")]

    def __str__(self) -> str:
        return self.number

    @property
    def owed_cents(self) -> int:
        """What is still owed, in cents; nothing while no amount is set."""
        return 0 if self.paid_at else (self.amount_cents or 0)


class ArrivedAs(models.TextChoices):
    WHOLE = "whole", "Whole, hide on"
    SKINNED = "skinned", "Whole, skinned"
    PIECES = "pieces", "Quarters and bags"
    BONELESS = "boneless", "Boneless bags"
    TRIM = "trim", "Frozen trim"
    BIRDS = "birds", "Birds"


class WeightBasis(models.TextChoices):
    """What was on the scale when a whole animal was weighed at the door."""

    LIVE = "live", "Not dressed"
    DRESSED_FEET_ON = "dressed_feet_on", "Field-dressed, feet on"
    DRESSED_FEET_OFF = "dressed_feet_off", "Field-dressed, feet off"


class Sex(models.TextChoices):
    MALE = "male", "Male"
    FEMALE = "female", "Female"
    UNKNOWN = "unknown", "Not known"


class AgeClass(models.TextChoices):
    YOUNG = "young", "Young of the year"
    YEARLING = "yearling", "Yearling"
    ADULT = "adult", "Adult"
    UNKNOWN = "unknown", "Not known"


class Keep(models.TextChoices):
    """What the hunter wants of a part that can be kept. Unanswered means kept whole."""

    UNANSWERED = "", "Not answered: kept whole"
    KEEP = "keep", "Keep"
    ANTLERS = "antlers", "Antlers only"
    DISCARD = "discard", "Discard"
    ABSENT = "absent", "Not brought"


class Tenderloin(models.TextChoices):
    UNANSWERED = "", "Not answered"
    PRESENT = "present", "Present"
    FIELD = "field", "Taken in the field"
    DAMAGED = "damaged", "Shot or spoiled"


class DiseaseTest(models.TextChoices):
    NONE = "none", "No test"
    ASKED = "asked", "Test asked for"
    SAMPLED = "sampled", "Sample taken"


class Region(models.TextChoices):
    """Where an animal was hit."""

    HEAD = "head", "Head"
    NECK = "neck", "Neck"
    SHOULDER = "shoulder", "Shoulder"
    RIBS = "ribs", "Ribs"
    LOIN = "loin", "Loin"
    GUT = "gut", "Gut"
    HIND = "hind", "Hind"


class Animal(models.Model):
    """One tag's animal. Facts may be corrected (each correction is an event); `state` is cached from its pieces."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="animals")
    n = models.PositiveSmallIntegerField()
    species = models.ForeignKey("shop.Species", on_delete=models.PROTECT, related_name="+")
    bird_count = models.PositiveSmallIntegerField(null=True, blank=True)
    sex = models.CharField(max_length=8, choices=Sex.choices, default=Sex.UNKNOWN)
    age_class = models.CharField(max_length=8, choices=AgeClass.choices, default=AgeClass.UNKNOWN)
    arrived_as = models.CharField(max_length=10, choices=ArrivedAs.choices)
    weight_basis = models.CharField(
        max_length=18, choices=WeightBasis.choices, default=WeightBasis.DRESSED_FEET_ON, blank=True
    )
    arrived_at = models.DateTimeField()
    arrived_on = models.DateField(help_text="The day of arrival in the shop's zone.")
    taker = models.ForeignKey(
        Contact, null=True, blank=True, on_delete=models.PROTECT, related_name="animals"
    )
    tag_no = models.CharField(max_length=40, blank=True)
    tag_key = models.CharField(
        max_length=40,
        blank=True,
        help_text="The tag's letters and digits alone: one tag, however it is written.",
    )
    no_tag_reason = models.ForeignKey(
        "shop.NoTagReason", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    tag_filed_at = models.CharField(
        max_length=60, blank=True, help_text="Where the detached state tag is kept."
    )
    license_no = models.CharField(max_length=40, blank=True)
    killed_on = models.DateField(null=True, blank=True)
    kill_place = models.CharField(max_length=120, blank=True, help_text="County, unit or zone, property.")
    dirty = models.BooleanField(default=False)
    gut_shot = models.BooleanField(default=False)
    warm = models.BooleanField(default=False)
    condition_note = models.CharField(max_length=160, blank=True)
    regions_hit: Any = models.JSONField(default=list, blank=True)
    tenderloin_left = models.CharField(max_length=8, choices=Tenderloin.choices, blank=True, default="")
    tenderloin_right = models.CharField(max_length=8, choices=Tenderloin.choices, blank=True, default="")
    keep_head = models.CharField(max_length=8, choices=Keep.choices, blank=True, default="")
    keep_cape = models.CharField(max_length=8, choices=Keep.choices, blank=True, default="")
    keep_hide = models.CharField(max_length=8, choices=Keep.choices, blank=True, default="")
    keep_organs = models.CharField(max_length=8, choices=Keep.choices, blank=True, default="")
    disease_test = models.CharField(max_length=8, choices=DiseaseTest.choices, default=DiseaseTest.NONE)
    sample_no = models.CharField(max_length=40, blank=True)
    state = models.CharField(max_length=20, choices=State.choices, default=State.BOOKED)
    hung_at = models.DateTimeField(
        null=True, blank=True, help_text="Since when it hangs; cached from its pieces."
    )
    ended = models.CharField(
        max_length=10, blank=True, help_text="refused, spoiled or void, when it ended early."
    )

    class Meta:
        ordering: ClassVar = ["order_id", "n"]
        constraints = [
            models.UniqueConstraint(fields=["order", "n"], name="animal_number_once"),
            models.CheckConstraint(condition=Q(state__in=State.values), name="animal_state_known"),
            models.CheckConstraint(condition=Q(arrived_as__in=ArrivedAs.values), name="animal_arrival_known"),
            models.CheckConstraint(
                condition=Q(killed_on=None) | Q(killed_on__lte=F("arrived_on")),
                name="animal_killed_before_it_came",
            ),
            models.CheckConstraint(condition=Q(n__gte=1), name="animal_number_from_one"),
            models.CheckConstraint(
                condition=Q(ended__in=["", "refused", "spoiled", "void"]), name="animal_ending_known"
            ),
            models.CheckConstraint(
                condition=Q(bird_count=None) | Q(bird_count__gte=1), name="animal_bird_count_positive"
            ),
        ]
        # Read by the floor's queues and the owner's tables.
        indexes = [
            models.Index(fields=["state", "hung_at"], name="animal_state_hung"),
            # Read when a tag is recorded: is it on another animal already?
            models.Index(fields=["tag_key"], name="animal_tag_key"),
        ]

    def __str__(self) -> str:
        return f"{self.order.number}/{self.n}"

    @property
    def has_tag(self) -> bool:
        """A tag number, or a reason that the shop's rules allow."""
        return bool(self.tag_no or self.no_tag_reason_id)

    @property
    def label(self) -> str:
        """`26-0147` for the only animal of an order, `26-0147/2` from the second on (needs `order`)."""
        return self.order.number if self.n == 1 else f"{self.order.number}/{self.n}"
