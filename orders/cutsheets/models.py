"""What the hunter wants made of the animal: versions of a cut sheet, and its lines."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q


class CutSheet(models.Model):
    """One version. The newest is the current one; a new version replaces it whole."""

    animal = models.ForeignKey("orders.Animal", on_delete=models.PROTECT, related_name="cut_sheets")
    version = models.PositiveSmallIntegerField()
    current = models.BooleanField(default=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    wrap = models.CharField(
        max_length=8, choices=[("paper", "Freezer paper"), ("vacuum", "Vacuum")], default="vacuum"
    )
    note = models.CharField(max_length=80, blank=True, help_text="Shown loud at the block.")

    class Meta:
        ordering: ClassVar = ["animal_id", "version"]
        constraints = [
            models.UniqueConstraint(fields=["animal", "version"], name="cut_sheet_version_once"),
            models.UniqueConstraint(
                fields=["animal"], condition=Q(current=True), name="cut_sheet_one_current"
            ),
        ]

    def __str__(self) -> str:
        return f"cut sheet {self.animal_id} v{self.version}"


class CutLine(models.Model):
    """One part made one way, for a share of it. The shares of a part add up to 10,000 basis points."""

    sheet = models.ForeignKey(CutSheet, on_delete=models.PROTECT, related_name="lines")
    part = models.ForeignKey("shop.Part", on_delete=models.PROTECT, related_name="+")
    choice = models.ForeignKey("shop.Choice", on_delete=models.PROTECT, related_name="+")
    share_bp = models.PositiveSmallIntegerField(default=10_000)
    thickness_16ths = models.PositiveSmallIntegerField(null=True, blank=True)
    pieces_per_pack = models.PositiveSmallIntegerField(null=True, blank=True)
    pack_oz = models.PositiveSmallIntegerField(null=True, blank=True)
    fat_bp = models.PositiveSmallIntegerField(default=0)
    fat_kind = models.CharField(
        max_length=10, blank=True, choices=[("pork", "Pork fat"), ("beef", "Beef fat")]
    )
    note = models.CharField(max_length=80, blank=True)
    from_house = models.BooleanField(default=False, help_text="Nobody chose it: the house cut.")

    class Meta:
        ordering: ClassVar = ["part__sort", "-share_bp", "id"]
        constraints = [
            models.UniqueConstraint(fields=["sheet", "part", "choice"], name="cut_line_choice_once"),
            models.CheckConstraint(
                condition=Q(share_bp__gte=1) & Q(share_bp__lte=10_000), name="cut_line_share_in_range"
            ),
            models.CheckConstraint(condition=Q(fat_bp__lte=5_000), name="cut_line_fat_at_most_half"),
        ]

    def __str__(self) -> str:
        return f"{self.part}: {self.choice}"


class CutRequest(models.Model):
    """A change asked for after cutting began: the cutter sees it and answers."""

    animal = models.ForeignKey("orders.Animal", on_delete=models.PROTECT, related_name="cut_requests")
    text = models.CharField(max_length=160)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(null=True)
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    accepted = models.BooleanField(null=True)
    answer = models.CharField(max_length=160, blank=True)

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return self.text
