"""Build the demo: an invented shop in the middle of its season."""

from __future__ import annotations

import sys
import time
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection, transaction

from orders.demo import build, tour
from orders.demo.alone import alone
from orders.demo.reset import empty
from orders.ledger.check import problems
from orders.models import Order

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
            with alone(settings.DATA_DIR / "demo.lock", self._say_that_another_builds):
                self._prepare(reset=options["reset"])
        except build.DemoRefusedError as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(tour.text())

    def _say_that_another_builds(self) -> None:
        self.stderr.write("Another build of this demo is running. Waiting until it is done ...")

    def _prepare(self, *, reset: bool) -> None:
        """Bring the database up to date and build what is not there; another shop's is not touched."""
        if Order._meta.db_table in connection.introspection.table_names():
            build.refuse_other_shop()
        call_command("migrate", verbosity=0)
        if reset:
            empty()
        if build.is_demo():
            self.stderr.write(
                "The demo is here already and stays as it is; --reset (RESET=1 for make) builds it anew."
            )
        else:
            self._build()

    def _build(self) -> None:
        self.stderr.write("Building the demo season, about a minute ...")
        began = time.monotonic()
        with transaction.atomic():
            build.build(self._progress)
            found = problems()
            if found:
                raise CommandError("The demo's ledger does not agree: " + " ".join(found[:5]))
        self.stderr.write(f"\nBuilt in {time.monotonic() - began:.0f} s.")

    def _progress(self, done: int, of: int) -> None:
        """A bar on a terminal, a line now and then in a log."""
        filled = done * BAR // of
        if sys.stderr.isatty():
            self.stderr.write(f"\r[{'#' * filled}{'.' * (BAR - filled)}] {done} of {of} orders", ending="")
        elif done % 100 == 0 or done == of:
            self.stderr.write(f"{done} of {of} orders")
