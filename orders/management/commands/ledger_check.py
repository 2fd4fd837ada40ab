"""Replay the ledger and say where it does not agree."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

from orders.ledger.check import problems


class Command(BaseCommand):
    help = "Replays the ledger; prints what does not agree and ends with 1, or says that all agrees."

    def handle(self, *args: Any, **options: Any) -> None:
        found = problems()
        for sentence in found:
            self.stdout.write(sentence)
        if found:
            self.stderr.write(f"{len(found)} disagreements.")
            sys.exit(1)
        self.stdout.write("The ledger agrees with itself.")
