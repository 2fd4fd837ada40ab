"""Build the demo: an invented shop in the middle of its season."""

from __future__ import annotations

import sys
import time
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from orders.demo import build, tour
from orders.demo.reset import empty
from orders.ledger.check import problems

BAR = 40


class Command(BaseCommand):
    help = "Builds an invented shop with six weeks of orders in every state, and says what to try first."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--reset", action="store_true", help="Empty the demo's database and build it anew."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            build.refuse_strangers()
            build.refuse_other_shop()
            if options["reset"]:
                empty()
            if build.is_demo():
                self.stderr.write("The demo is here already and stays as it is; --reset builds it anew.")
            else:
                self._build()
        except build.DemoRefusedError as refused:
            raise CommandError(str(refused)) from refused
        found = problems()
        if found:
            raise CommandError("The demo's ledger does not agree: " + " ".join(found[:5]))
        self.stdout.write(tour.text())

    def _build(self) -> None:
        began = time.monotonic()
        build.build(self._progress)
        self.stderr.write(f"\nBuilt in {time.monotonic() - began:.0f} s.")

    def _progress(self, done: int, of: int) -> None:
        """A bar on a terminal, a line now and then in a log."""
        filled = done * BAR // of
        if sys.stderr.isatty():
            self.stderr.write(f"\r[{'#' * filled}{'.' * (BAR - filled)}] {done} of {of} orders", ending="")
        elif done % 100 == 0 or done == of:
            self.stderr.write(f"{done} of {of} orders")
