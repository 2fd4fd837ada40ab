"""What left, with whom."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.db import models


class Release(models.Model):
    """One handing over: the collector's name and mark, and by its event's movements what left."""

    event = models.OneToOneField(
        "orders.Event", on_delete=models.PROTECT, related_name="release", to_field="uid"
    )
    order = models.ForeignKey("orders.Order", on_delete=models.PROTECT, related_name="releases")
    n = models.PositiveSmallIntegerField()
    collector = models.CharField(max_length=80)
    mark: Any = models.JSONField(default=list, help_text="Strokes of points from 0 to 1000, or empty.")
    initials = models.CharField(max_length=12, blank=True, help_text="Typed where no mark was drawn.")
    at = models.DateTimeField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["id"]
        constraints = [models.UniqueConstraint(fields=["order", "n"], name="release_number_once")]

    def __str__(self) -> str:
        return f"{self.order_id} release {self.n}"

    @property
    def vouched(self) -> str:
        """How the clerk knew that somebody who was not on the list may collect; empty for who is (needs `event`)."""
        return str(self.event.data.get("vouched", ""))

    @property
    def collected_by(self) -> str:
        """The collector, and for somebody who was not on the list how the clerk knew (needs `event`)."""
        return f"{self.collector} (not on the list: {self.vouched})" if self.vouched else self.collector
