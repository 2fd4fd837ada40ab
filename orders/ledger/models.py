"""The ledger: pieces, events, movements, weighings, runs and holds.

Events, movements and weighings are only ever added; triggers refuse UPDATE and DELETE on both databases.
"""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from shop.models import Step
from shop.weights import Reading


class Outcome(models.TextChoices):
    OK = "ok", "Done"
    REFUSED = "refused", "Refused"


class Event(models.Model):
    """One thing a person did, or tried to do. `uid` is the sender's id: the same id again gets the first answer."""

    uid = models.UUIDField(unique=True)
    verb = models.CharField(max_length=40)
    outcome = models.CharField(max_length=8, choices=Outcome.choices)
    refusal = models.CharField(max_length=40, blank=True, help_text="Stable code of the refusal.")
    shown = models.TextField(help_text="The sentence the person was shown.")
    raw_code = models.CharField(max_length=60, blank=True)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    device = models.ForeignKey("shop.Device", null=True, on_delete=models.PROTECT, related_name="+")
    station = models.ForeignKey("shop.Station", null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(help_text="When it happened.")
    received_at = models.DateTimeField(help_text="When it reached this machine.")
    order = models.ForeignKey("orders.Order", null=True, on_delete=models.PROTECT, related_name="events")
    animal = models.ForeignKey("orders.Animal", null=True, on_delete=models.PROTECT, related_name="events")
    run = models.ForeignKey("orders.Run", null=True, on_delete=models.PROTECT, related_name="events")
    voids = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="voided_by", to_field="uid"
    )
    payload_hash = models.CharField(max_length=64)
    data: Any = models.JSONField(default=dict)

    class Meta:
        ordering: ClassVar = ["at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(outcome="ok") & Q(refusal="")) | (Q(outcome="refused") & ~Q(refusal="")),
                name="event_refusal_has_a_code",
            ),
        ]
        # Read by the trail and the order's history.
        indexes = [
            models.Index(fields=["order", "at"], name="event_order_at"),
            models.Index(fields=["animal", "at"], name="event_animal_at"),
            models.Index(fields=["run"], name="event_run"),
            models.Index(fields=["at"], name="event_at"),
        ]

    def __str__(self) -> str:
        return f"{self.verb} {self.outcome}"


class PieceKind(models.TextChoices):
    CARCASS = "carcass", "Carcass"
    QUARTER = "quarter", "Quarter"
    BAG = "bag", "Bag"
    TENDERLOIN = "tenderloin", "Tenderloin bag"
    KEPT = "kept", "Kept part"
    LUG = "lug", "Lug"
    PACKAGE = "package", "Package"
    BOX = "box", "Box"


BODY_KINDS = (PieceKind.CARCASS, PieceKind.QUARTER, PieceKind.BAG)


class PieceState(models.TextChoices):
    RECEIVED = "received", "Received"
    HANGING = "hanging", "Hanging"
    TABLE = "table", "On the table"
    WAITING = "waiting", "Waiting"
    PACKED = "packed", "Packed"
    STORED = "stored", "Stored"
    USED = "used", "Used up"
    COLLECTED = "collected", "Collected"
    HAULED = "hauled", "Hauled away"
    VOID = "void", "Void"


ENDED = (PieceState.USED, PieceState.COLLECTED, PieceState.HAULED, PieceState.VOID)


class Contents(models.TextChoices):
    NONE = "", "-"
    WHOLE_CUTS = "whole_cuts", "Whole cuts"
    GRIND_TRIM = "grind_trim", "Grind trim"
    GROUND = "ground", "Ground meat"
    TENDERLOINS = "tenderloins", "Tenderloins"


class Piece(models.Model):
    """Anything trackable. Belongs to one animal or to one order; is in a place or in a container, never both."""

    code = models.CharField(max_length=10, unique=True)
    kind = models.CharField(max_length=10, choices=PieceKind.choices)
    form = models.ForeignKey("shop.PieceForm", null=True, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=60, help_text="What a person calls it: “hind quarter, left”.")
    contents = models.CharField(max_length=12, choices=Contents.choices, blank=True, default="")
    animal = models.ForeignKey("orders.Animal", null=True, on_delete=models.PROTECT, related_name="pieces")
    order = models.ForeignKey("orders.Order", null=True, on_delete=models.PROTECT, related_name="pieces")
    n = models.PositiveSmallIntegerField(help_text="Number among its kind.")
    state = models.CharField(max_length=10, choices=PieceState.choices)
    place = models.ForeignKey("shop.Place", null=True, on_delete=models.PROTECT, related_name="pieces")
    container = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="inside")
    made_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(animal=None) & ~Q(order=None)) | (~Q(animal=None) & Q(order=None)),
                name="piece_belongs_to_one",
            ),
            models.CheckConstraint(
                condition=(Q(place=None) & ~Q(container=None)) | (~Q(place=None) & Q(container=None)),
                name="piece_is_in_one_place",
            ),
            models.CheckConstraint(
                condition=Q(container=None) | ~Q(container=F("id")), name="piece_not_inside_itself"
            ),
            models.CheckConstraint(condition=Q(state__in=PieceState.values), name="piece_state_known"),
            models.CheckConstraint(condition=Q(kind__in=PieceKind.values), name="piece_kind_known"),
            models.CheckConstraint(
                condition=Q(container=None) | Q(kind="package"), name="piece_only_packs_in_boxes"
            ),
            models.UniqueConstraint(
                fields=["animal", "form"],
                condition=Q(kind="kept") & ~Q(state="void"),
                name="piece_kept_part_once",
            ),
        ]
        # Read by the floor's queues, the order page and the freezer map.
        indexes = [
            models.Index(fields=["animal", "kind", "state"], name="piece_animal_kind"),
            models.Index(fields=["order", "kind", "state"], name="piece_order_kind"),
            models.Index(fields=["kind", "state"], name="piece_kind_state"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def order_id_of(self) -> int:
        """The id of the order it belongs to, by way of its animal or directly."""
        if self.order_id is not None:
            return self.order_id
        assert self.animal is not None
        return self.animal.order_id


class Movement(models.Model):
    """One change of a piece's state or place, written with the change itself. Folding them gives the cached state."""

    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="movements", to_field="uid")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="movements")
    state_from = models.CharField(max_length=10, blank=True)
    state_to = models.CharField(max_length=10)
    place_from = models.ForeignKey("shop.Place", null=True, on_delete=models.PROTECT, related_name="+")
    place_to = models.ForeignKey("shop.Place", null=True, on_delete=models.PROTECT, related_name="+")
    container_from = models.ForeignKey(Piece, null=True, on_delete=models.PROTECT, related_name="+")
    container_to = models.ForeignKey(Piece, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(place_to=None) & ~Q(container_to=None))
                | (~Q(place_to=None) & Q(container_to=None)),
                name="movement_to_one_place",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece_id}: {self.state_from} > {self.state_to}"


class RunKind(models.TextChoices):
    SKIN = "skin", "Skinning"
    CUT = "cut", "Breakdown"
    GRIND = "grind", "Grind"
    WRAP = "wrap", "Wrap"


class Run(models.Model):
    """One job of work at a station: what went in, came out, was added, was waste. For one animal, or one order."""

    code = models.CharField(max_length=10, unique=True)
    kind = models.CharField(max_length=6, choices=RunKind.choices)
    animal = models.ForeignKey("orders.Animal", null=True, on_delete=models.PROTECT, related_name="runs")
    order = models.ForeignKey("orders.Order", null=True, on_delete=models.PROTECT, related_name="runs")
    station = models.ForeignKey("shop.Station", on_delete=models.PROTECT, related_name="+")
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True)
    close_reason = models.CharField(max_length=200, blank=True)
    put_back = models.BooleanField(default=False, help_text="Opened by mistake: what went in was put back.")

    class Meta:
        ordering: ClassVar = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(animal=None) & ~Q(order=None)) | (~Q(animal=None) & Q(order=None)),
                name="run_for_one_animal_or_order",
            ),
            models.CheckConstraint(condition=Q(kind__in=RunKind.values), name="run_kind_known"),
            models.UniqueConstraint(
                fields=["animal", "kind"], condition=Q(closed_at=None), name="run_one_open_of_a_kind"
            ),
            models.UniqueConstraint(
                fields=["order", "kind"], condition=Q(closed_at=None), name="run_one_open_of_a_kind_order"
            ),
            models.UniqueConstraint(
                fields=["station"],
                condition=Q(closed_at=None, kind="grind"),
                name="run_one_grind_at_a_station",
            ),
            models.UniqueConstraint(
                fields=["station"], condition=Q(closed_at=None, kind="wrap"), name="run_one_wrap_at_a_station"
            ),
        ]
        # Read by the floor pages: what is open at this station.
        indexes = [models.Index(fields=["station", "closed_at"], name="run_station_open")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.code}"


class Point(models.TextChoices):
    """What was on the scale."""

    RECEIVED = "received", "Received weight"
    HANGING = "hanging", "Hanging weight"
    AT_BLOCK = "at_block", "At the block"
    PART_OFF = "part_off", "Part taken off"
    LUG = "lug", "Lug"
    WASTE = "waste", "Waste"
    FAT = "fat", "Fat added"
    GRIND_OUT = "grind_out", "Out of the grinder"
    PACK = "pack", "Pack"


class Weighing(models.Model):
    """A reading: integers as the scale showed them, and milligrams rounded once. Voided with its event."""

    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="weighings", to_field="uid")
    point = models.CharField(max_length=10, choices=Point.choices)
    animal = models.ForeignKey("orders.Animal", null=True, on_delete=models.PROTECT, related_name="weighings")
    piece = models.ForeignKey(Piece, null=True, on_delete=models.PROTECT, related_name="weighings")
    run = models.ForeignKey(Run, null=True, on_delete=models.PROTECT, related_name="weighings")
    gross = models.IntegerField()
    tare = models.IntegerField(default=0)
    net = models.IntegerField()
    unit = models.CharField(max_length=2)
    decimals = models.PositiveSmallIntegerField()
    mg = models.BigIntegerField(help_text="Net, in milligrams.")
    captured = models.BooleanField(default=False, help_text="Read from a scale rather than typed.")
    nominal = models.BooleanField(default=False, help_text="The stated size, not a reading.")

    class Meta:
        ordering: ClassVar = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(net=F("gross") - F("tare")), name="weighing_net_is_gross_less_tare"
            ),
            models.CheckConstraint(
                condition=Q(net__gte=0) & Q(tare__gte=0) & Q(mg__gte=0), name="weighing_not_negative"
            ),
        ]
        # Read by the yield queries.
        indexes = [models.Index(fields=["animal", "point"], name="weighing_animal_point")]

    def __str__(self) -> str:
        return f"{self.point} {self.mg} mg"

    @property
    def reading(self) -> Reading:
        """The net weight as the scale showed it."""
        return Reading(self.net, self.unit, self.decimals)


class Direction(models.TextChoices):
    IN = "in", "In"
    OUT = "out", "Out"
    ADDED = "added", "Added"
    WASTE = "waste", "Waste"


class RunLine(models.Model):
    """What went into a run, came out, was added or was waste. No weighing: it was not weighed, and stays so."""

    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="lines", to_field="uid")
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="lines")
    direction = models.CharField(max_length=5, choices=Direction.choices)
    what = models.CharField(
        max_length=40, help_text="Stable word: bone_fat, waste, bloodshot, pork_fat, head ..."
    )
    piece = models.ForeignKey(Piece, null=True, on_delete=models.PROTECT, related_name="lines")
    weighing = models.ForeignKey(Weighing, null=True, on_delete=models.PROTECT, related_name="lines")
    note = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(direction__in=["in", "out"]) | ~Q(piece=None),
                name="run_line_pieces_go_in_and_out",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.direction} {self.what}"


class HoldKind(models.TextChoices):
    TAG = "tag", "Tag"
    DISEASE_TEST = "disease_test", "Disease test pending"
    INSTRUCTIONS = "instructions", "Cutting instructions"
    DEPOSIT = "deposit", "Deposit"
    RECALL = "recall", "Recall"
    SPOILED = "spoiled", "May be spoiled"


class Hold(models.Model):
    """Stops every step of an animal's work and its pickup, whoever tries, until it is released."""

    animal = models.ForeignKey("orders.Animal", on_delete=models.PROTECT, related_name="holds")
    kind = models.CharField(max_length=14, choices=HoldKind.choices)
    note = models.CharField(max_length=160, blank=True)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    released_at = models.DateTimeField(null=True)
    released_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    release_note = models.CharField(max_length=160, blank=True)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["animal", "kind"], condition=Q(released_at=None), name="hold_one_open_of_a_kind"
            )
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


STEP_OF_RUN = {
    RunKind.SKIN: Step.SKIN,
    RunKind.CUT: Step.BLOCK,
    RunKind.GRIND: Step.GRIND,
    RunKind.WRAP: Step.WRAP,
}
