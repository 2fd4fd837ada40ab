"""What the ledger says of each animal's yield, kept so that a season can be audited without reading every pack."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.db import models

SHARED = "+"


class YieldRecord(models.Model):
    """One animal, or all of an order whose meat was put together, as reckoned at `order_version` of its order.

    Derived from the ledger alone and written only by `orders.yields.refresh`; throw it away and it comes back. Weights
    in milligrams; None is not weighed, never zero.
    """

    animal = models.OneToOneField("orders.Animal", on_delete=models.CASCADE, related_name="yield_record")
    members: Any = models.JSONField(help_text="Ids of all animals reckoned together.")
    order = models.ForeignKey("orders.Order", on_delete=models.CASCADE, related_name="yield_records")
    season = models.ForeignKey("orders.Season", on_delete=models.CASCADE, related_name=SHARED)
    order_version = models.PositiveIntegerField(help_text="The version of the order it was reckoned at.")
    species = models.ForeignKey("shop.Species", on_delete=models.CASCADE, related_name=SHARED)
    animal_class = models.CharField(max_length=20, help_text="Sex and age class: “male-adult”.")
    finished_at = models.DateTimeField(null=True, help_text="When the last of it was packed.")
    cutter = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.CASCADE, related_name=SHARED
    )
    block = models.ForeignKey("shop.Station", null=True, on_delete=models.CASCADE, related_name=SHARED)
    alone = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        on_delete=models.CASCADE,
        related_name=SHARED,
        help_text="Who did all of the floor work; empty where several did.",
    )
    basis = models.CharField(max_length=20, blank=True)
    weighed_mg = models.BigIntegerField(null=True)
    received_mg = models.BigIntegerField(null=True)
    hung_mg = models.BigIntegerField(null=True)
    block_mg = models.BigIntegerField(null=True, help_text="At the block, after hanging.")
    hung_days = models.PositiveSmallIntegerField(default=0)
    low_mg = models.BigIntegerField(null=True, help_text="By the published figures alone.")
    likely_mg = models.BigIntegerField(null=True)
    high_mg = models.BigIntegerField(null=True)
    packed_mg = models.BigIntegerField(null=True)
    own_mg = models.BigIntegerField(null=True, help_text="Packed, less what was added.")
    added_mg = models.BigIntegerField(null=True)
    packs = models.PositiveIntegerField(default=0)
    observed: Any = models.JSONField(
        default=dict,
        help_text="What the shop learns from it: logarithms by quantity (see `refresh.observed`).",
    )
    teaches = models.BooleanField(default=False)
    why_not = models.CharField(max_length=120, blank=True, help_text="Why it teaches nothing.")
    points_weighed = models.PositiveSmallIntegerField(default=0)
    points = models.PositiveSmallIntegerField(default=0)
    facts: Any = models.JSONField(
        default=dict, help_text="Parts, losses, gaps and what was noted, for the flags and the reports."
    )

    class Meta:
        ordering: ClassVar = ["-order_id", "animal_id"]
        # Read by the audit of a season, and summed by species and class for what the shop has learned.
        indexes = [
            models.Index(fields=["season", "species"], name="yield_season_species"),
            models.Index(fields=["species", "teaches"], name="yield_teaches"),
            models.Index(fields=["order"], name="yield_order"),
        ]

    def __str__(self) -> str:
        return f"yield of animal {self.animal_id}"


class ShopFigure(models.Model):
    """The shop's own animals of one species and class, summed for one quantity; an empty class is all of a species.

    Rebuilt by `orders.yields.refresh` whenever a record of the species has changed. Values are logarithms.
    """

    species = models.ForeignKey("shop.Species", on_delete=models.CASCADE, related_name=SHARED)
    animal_class = models.CharField(max_length=20, blank=True)
    quantity = models.CharField(
        max_length=60, help_text="`boneless`, `drying`, or `part:` and a part's code."
    )
    n = models.PositiveIntegerField()
    mean = models.FloatField()
    squares = models.FloatField(help_text="Sum of the squared distances from the mean.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["species", "animal_class", "quantity"], name="shop_figure_once"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.animal_class}: {self.n}"
