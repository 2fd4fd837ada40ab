"""The retail pack. Its box and its place are the piece's."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q


class Package(models.Model):
    """One pack: cut, style, number, and its weighing or its count only. One to one with its piece."""

    piece = models.OneToOneField("orders.Piece", on_delete=models.PROTECT, related_name="package")
    run = models.ForeignKey("orders.Run", on_delete=models.PROTECT, related_name="packages")
    animal = models.ForeignKey("orders.Animal", null=True, on_delete=models.PROTECT, related_name="packages")
    order = models.ForeignKey("orders.Order", null=True, on_delete=models.PROTECT, related_name="packages")
    n = models.PositiveIntegerField()
    part = models.ForeignKey("shop.Part", on_delete=models.PROTECT, related_name="+")
    choice = models.ForeignKey("shop.Choice", on_delete=models.PROTECT, related_name="+")
    count = models.PositiveSmallIntegerField(null=True, help_text="Pieces in the pack, where counted.")
    weighing = models.OneToOneField(
        "orders.Weighing", null=True, on_delete=models.PROTECT, related_name="package"
    )
    packed_at = models.DateTimeField()
    has_added_fat = models.CharField(max_length=10, blank=True, help_text="pork, beef or empty")

    class Meta:
        ordering: ClassVar = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["animal", "n"], name="package_number_once"),
            models.UniqueConstraint(fields=["order", "n"], name="package_number_once_in_order"),
            models.CheckConstraint(
                condition=(Q(animal=None) & ~Q(order=None)) | (~Q(animal=None) & Q(order=None)),
                name="package_belongs_to_one",
            ),
            models.CheckConstraint(condition=Q(n__gte=1), name="package_number_from_one"),
        ]

    def __str__(self) -> str:
        return f"pack {self.n}"
