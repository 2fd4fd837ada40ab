"""The shop as a place. What is here is set up by the owner or loaded from the catalog; the work is in `orders`."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models import Q

from shop.weights import MG_PER_UNIT


class Role(models.TextChoices):
    OWNER = "owner", "Owner"
    COUNTER = "counter", "Counter"
    FLOOR = "floor", "Floor"


class Person(AbstractUser):
    """Somebody who works here. The PIN and the badge work on enrolled devices only, for the floor role only."""

    role = models.CharField(max_length=10, choices=Role.choices, default=Role.FLOOR)
    pin = models.CharField(max_length=128, blank=True, help_text="Hashed.")
    badge = models.CharField(
        max_length=12, unique=True, null=True, blank=True, help_text="Twelve random digits."
    )
    language = models.CharField(max_length=2, choices=[("en", "English"), ("es", "Español")], default="en")

    class Meta(AbstractUser.Meta):
        constraints = [
            models.CheckConstraint(condition=Q(role__in=Role.values), name="person_role_known"),
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username


class ShopSettings(models.Model):
    """The one row of what this shop is and how it works."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    name = models.CharField(max_length=80, default="Our shop")
    address = models.CharField(max_length=120, blank=True)
    town = models.CharField(max_length=120, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=2, choices=[(u, u) for u in MG_PER_UNIT], default="lb")
    label_decimals = models.PositiveSmallIntegerField(default=2)
    boneless_only = models.BooleanField(default=True, help_text="The saw is not used: no bone-in cuts.")
    weigh_packs = models.BooleanField(default=True, help_text="Off: packs are counted, not weighed.")
    hold_for_test = models.BooleanField(
        default=True, help_text="A disease test opens a hold until its result."
    )
    instructions_hours = models.PositiveSmallIntegerField(default=24)
    region = models.CharField(max_length=2, default="US", help_text="Where a phone number without + belongs.")

    class Meta:
        verbose_name_plural = "shop settings"
        constraints = [models.CheckConstraint(condition=Q(id=1), name="shop_settings_single")]

    def __str__(self) -> str:
        return self.name


class Step(models.TextChoices):
    """What is done at a station."""

    COUNTER = "counter", "Counter"
    SKIN = "skin", "Skinning"
    COOLER = "cooler", "Cooler"
    BLOCK = "block", "The block"
    GRIND = "grind", "Grind"
    WRAP = "wrap", "Wrap"
    FREEZER = "freezer", "Freezer"
    OFFICE = "office", "Office"


class Station(models.Model):
    code = models.CharField(max_length=10, unique=True)
    name = models.CharField(max_length=40, unique=True)
    step = models.CharField(max_length=10, choices=Step.choices)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints = [models.CheckConstraint(condition=Q(step__in=Step.values), name="station_step_known")]

    def __str__(self) -> str:
        return self.name


class Device(models.Model):
    """An enrolled tablet or PC: a random token (kept hashed), its station, and who is at it now."""

    name = models.CharField(max_length=40)
    token_hash = models.CharField(max_length=64, unique=True)
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="devices")
    enrolled_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class PlaceKind(models.TextChoices):
    COUNTER = "counter", "Counter"
    RAIL = "rail", "Rail"
    RACK = "rack", "Rack"
    STATION = "station", "Station"
    FREEZER = "freezer", "Freezer shelf"
    HOOK = "hook", "Antler or cape place"
    SINK = "sink", "Left the shop"


class Place(models.Model):
    """Somewhere a piece can be. Sinks are where pieces end: collected, used up, hauled, void."""

    code = models.CharField(max_length=10, unique=True)
    name = models.CharField(max_length=40, unique=True)
    kind = models.CharField(max_length=10, choices=PlaceKind.choices)
    sink = models.CharField(max_length=10, blank=True, help_text="collected, used, hauled, void")
    station = models.ForeignKey(
        Station, null=True, blank=True, on_delete=models.PROTECT, related_name="places"
    )
    sort = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering: ClassVar = ["sort", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=PlaceKind.values), name="place_kind_known"),
            models.CheckConstraint(
                condition=(Q(kind="sink") & ~Q(sink="")) | (~Q(kind="sink") & Q(sink="")),
                name="place_sink_named",
            ),
            models.UniqueConstraint(fields=["sink"], condition=~Q(sink=""), name="place_one_of_each_sink"),
        ]

    def __str__(self) -> str:
        return self.name


class Species(models.Model):
    """A species the shop takes. Milligrams: beyond `max_mg` is impossible, beyond `doubt_mg` is asked twice."""

    code = models.SlugField(max_length=24, unique=True)
    name = models.CharField(max_length=40)
    name_es = models.CharField(max_length=40, blank=True)
    latin = models.CharField(max_length=60, blank=True)
    is_bird = models.BooleanField(default=False)
    doubt_mg = models.BigIntegerField()
    max_mg = models.BigIntegerField()
    hang_days = models.PositiveSmallIntegerField(help_text="Usual days of hanging before it is cut.")
    hang_limit_days = models.PositiveSmallIntegerField(help_text="Days after which it is late.")
    caution = models.CharField(
        max_length=300, blank=True, help_text="Printed on packages and shown on the floor."
    )
    source = models.TextField(blank=True)
    sort = models.PositiveSmallIntegerField(default=0)

    class Meta:
        verbose_name_plural = "species"
        ordering: ClassVar = ["sort", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(doubt_mg__gt=0) & Q(max_mg__gte=models.F("doubt_mg")),
                name="species_limits_in_order",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Choice(models.Model):
    """One way of making a part: steaks, roast, grind, whole, discard. The four `wants_` say what must be answered."""

    code = models.SlugField(max_length=24, unique=True)
    name = models.CharField(max_length=40)
    name_es = models.CharField(max_length=40, blank=True)
    bone_in = models.BooleanField(default=False)
    is_grind = models.BooleanField(default=False, help_text="Goes to grind trim.")
    is_discard = models.BooleanField(default=False)
    wants_thickness = models.BooleanField(default=False)
    wants_pieces = models.BooleanField(default=False)
    wants_pack = models.BooleanField(default=False)
    sort = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering: ClassVar = ["sort", "id"]

    def __str__(self) -> str:
        return self.name


class Part(models.Model):
    """A part of the animal that the cut sheet asks about, with its muscle names in anatomical nomenclature."""

    code = models.SlugField(max_length=24, unique=True)
    name = models.CharField(max_length=40)
    name_es = models.CharField(max_length=60, blank=True)
    muscles = models.CharField(max_length=200, blank=True)
    hint = models.CharField(max_length=120, blank=True, help_text="Plain words: “inside, small”.")
    belongs_with = models.CharField(
        max_length=200, blank=True, help_text="What it stays with, e.g. the hind."
    )
    source = models.TextField(blank=True)
    choices = models.ManyToManyField(Choice, related_name="parts")
    sort = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering: ClassVar = ["sort", "id"]

    def __str__(self) -> str:
        return self.name


class PartName(models.Model):
    """A word of the trade for a part. An ambiguous word stands on more than one part and has to be asked about."""

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="names")
    name = models.CharField(max_length=60)
    ambiguous = models.BooleanField(default=False)
    language = models.CharField(max_length=2, default="en")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["part", "name", "language"], name="part_name_once")]

    def __str__(self) -> str:
        return self.name


class SpeciesPart(models.Model):
    """A part that a species has, and whether it is worth keeping apart or goes to grind trim."""

    species = models.ForeignKey(Species, on_delete=models.CASCADE, related_name="parts")
    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="species")
    worth_keeping = models.BooleanField(
        default=True, help_text="Off: goes to grind trim, no cuts are offered."
    )
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["species", "part"], name="species_part_once")]

    def __str__(self) -> str:
        return f"{self.species}: {self.part}"


class HouseCut(models.Model):
    """What the shop does with a part when the hunter chose nothing. No species: for every species."""

    species = models.ForeignKey(
        Species, null=True, blank=True, on_delete=models.CASCADE, related_name="house_cuts"
    )
    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="house_cuts")
    choice = models.ForeignKey(Choice, on_delete=models.PROTECT)
    thickness_16ths = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Sixteenths of an inch."
    )
    pieces_per_pack = models.PositiveSmallIntegerField(null=True, blank=True)
    pack_oz = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Pack size in ounces.")
    fat_bp = models.PositiveSmallIntegerField(default=0, help_text="Fat added to the grind, basis points.")
    fat_kind = models.CharField(max_length=10, blank=True, help_text="pork or beef")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["species", "part"], name="house_cut_once"),
            models.UniqueConstraint(
                fields=["part"], condition=Q(species=None), name="house_cut_general_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part}: {self.choice}"


class PieceForm(models.Model):
    """A form in which part of an animal can arrive or come off: whole carcass, hind quarter left, bag of loin, head."""

    code = models.SlugField(max_length=30, unique=True)
    name = models.CharField(max_length=40)
    name_es = models.CharField(max_length=60, blank=True)
    is_kept_part = models.BooleanField(
        default=False, help_text="Head, antlers, cape, hide, organs: leave on their own."
    )
    is_boneless = models.BooleanField(default=False)
    is_whole = models.BooleanField(default=False)
    bring_in = models.BooleanField(default=True, help_text="Offered when an animal arrives as pieces.")
    parts = models.ManyToManyField(Part, blank=True, related_name="forms", help_text="The parts it brings.")
    sort = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering: ClassVar = ["sort", "id"]

    def __str__(self) -> str:
        return self.name


class YieldFigure(models.Model):
    """A constant of the yield arithmetic with its source. Shares in basis points; the shop may set its own of each.

    Low and high are the 5th and 95th percentile of animals. `override_bp` is the shop's own likely value; where it
    gave no low and high of its own, the published spread is kept around it. Written by `shop.figures` alone.
    """

    code = models.SlugField(max_length=60, unique=True)
    species = models.ForeignKey(
        Species, null=True, blank=True, on_delete=models.CASCADE, related_name="figures"
    )
    sex = models.CharField(max_length=8, blank=True, help_text="Empty: both.")
    age_class = models.CharField(max_length=8, blank=True, help_text="Empty: all ages.")
    part = models.ForeignKey(Part, null=True, blank=True, on_delete=models.CASCADE, related_name="figures")
    quantity = models.CharField(max_length=40)
    basis = models.CharField(max_length=120)
    contains: Any = models.JSONField(
        default=list, blank=True, help_text="Losses that a lean share contains already."
    )
    aged_days = models.PositiveSmallIntegerField(
        default=0, help_text="Days of drying that a lean share contains."
    )
    shot_loss_base = models.CharField(
        max_length=8,
        blank=True,
        choices=[("lean", "of the boneless lean"), ("carcass", "of the carcass")],
        help_text="What a shot loss, stated or contained, is a share of.",
    )
    low_bp = models.PositiveIntegerField()
    likely_bp = models.PositiveIntegerField()
    high_bp = models.PositiveIntegerField()
    n = models.CharField(max_length=40, blank=True)
    spread = models.CharField(max_length=120, blank=True)
    spread_grade = models.CharField(
        max_length=10,
        default="practice",
        choices=[
            ("published", "published"),
            ("derived", "arithmetic on a published spread"),
            ("practice", "common practice, no source"),
        ],
    )
    lent_by = models.CharField(
        max_length=40, blank=True, help_text="The species it was published for, where that is another one."
    )
    fitted_to: Any = models.JSONField(
        default=list, blank=True, help_text="Published rows it was taken from, which so cannot check it."
    )
    source = models.TextField()
    grade = models.CharField(
        max_length=16,
        choices=[
            ("read", "read in the source"),
            ("second-hand", "read in a page that quotes the source"),
            ("derived", "arithmetic on a published figure"),
            ("borrowed", "borrowed from another species, widened"),
            ("memory", "from memory"),
            ("practice", "common practice, no source"),
        ],
    )
    override_bp = models.PositiveIntegerField(null=True, blank=True, help_text="The shop's own value.")
    override_low_bp = models.PositiveIntegerField(null=True, blank=True)
    override_high_bp = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["species_id", "quantity", "code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(low_bp__lte=models.F("likely_bp")) & Q(likely_bp__lte=models.F("high_bp")),
                name="yield_figure_in_order",
            ),
            # A hit in one region may cost up to three times the average; everything else is a share of a whole.
            models.CheckConstraint(
                condition=Q(override_bp=None)
                | Q(override_bp__lte=10_000)
                | Q(quantity__startswith="shot_at_", override_bp__lte=30_000),
                name="yield_figure_override_is_a_share",
            ),
            models.CheckConstraint(
                condition=Q(override_low_bp=None, override_high_bp=None)
                | Q(
                    override_bp__isnull=False,
                    override_low_bp__lte=models.F("override_bp"),
                    override_high_bp__gte=models.F("override_bp"),
                ),
                name="yield_figure_override_in_order",
            ),
        ]

    def __str__(self) -> str:
        return self.code


class FigureChange(models.Model):
    """One time that the shop set its own value of a yield figure, or put the published one back (`likely_bp` empty).

    Only added to: what was there before, who changed it, when and why. `uid` is the id of the form it was sent with.
    """

    uid = models.UUIDField(unique=True)
    figure = models.ForeignKey(YieldFigure, on_delete=models.PROTECT, related_name="changes")
    low_bp = models.PositiveIntegerField(null=True)
    likely_bp = models.PositiveIntegerField(null=True)
    high_bp = models.PositiveIntegerField(null=True)
    was_low_bp = models.PositiveIntegerField(null=True)
    was_likely_bp = models.PositiveIntegerField(null=True)
    was_high_bp = models.PositiveIntegerField(null=True)
    reason = models.CharField(max_length=200)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="figure_change_has_a_reason"),
            models.CheckConstraint(
                condition=Q(low_bp=None, likely_bp=None, high_bp=None)
                | Q(
                    likely_bp__isnull=False,
                    low_bp__lte=models.F("likely_bp"),
                    high_bp__gte=models.F("likely_bp"),
                ),
                name="figure_change_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.figure_id} at {self.at:%Y-%m-%d}"


class NoTagReason(models.Model):
    """A reason the shop's rule set allows for holding an animal without a tag."""

    code = models.SlugField(max_length=24, unique=True)
    sentence = models.CharField(max_length=120)
    active = models.BooleanField(default=True)

    def __str__(self) -> str:
        return self.sentence


class Counter(models.Model):
    """Next numbers: code serials and order numbers. Taken with `shop.counters.take`, inside a write transaction."""

    name = models.CharField(max_length=40, primary_key=True)
    next = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return self.name


class LoginTry(models.Model):
    """A failed login, counted by account and device: one router serves the whole shop, so never by address."""

    key = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        # Read by shop.access.too_many_tries.
        indexes = [models.Index(fields=["key", "at"], name="login_try_key_at")]

    def __str__(self) -> str:
        return self.key


class JobState(models.TextChoices):
    WAITING = "waiting", "Waiting"
    RUNNING = "running", "Running"
    DONE = "done", "Done"
    FAILED = "failed", "Failed"


class Job(models.Model):
    """Background work. The row is the truth; a message is only a nudge. Claimed by compare-and-set, for a lease."""

    uid = models.UUIDField(unique=True)
    kind = models.CharField(max_length=30)
    payload: Any = models.JSONField()
    state = models.CharField(max_length=10, choices=JobState.choices, default=JobState.WAITING)
    created_at = models.DateTimeField()
    due_at = models.DateTimeField()
    lease_until = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    done_at = models.DateTimeField(null=True, blank=True)
    result: Any = models.JSONField(default=dict)
    error = models.TextField(blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(state__in=JobState.values), name="job_state_known")]
        # Read by shop.jobs.claim_next.
        indexes = [models.Index(fields=["state", "due_at"], name="job_state_due")]

    def __str__(self) -> str:
        return f"{self.kind} {self.uid}"
