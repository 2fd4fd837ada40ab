"""Load species, cuts and yield figures from the catalog files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop import catalog


class Command(BaseCommand):
    help = (
        "Loads species, parts, cuts and yield figures. Running it again changes nothing the shop set itself."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--root", type=Path, help="Another folder of catalog files.")
        parser.add_argument(
            "--limits",
            action="store_true",
            help="Take the files' hanging days and weight limits too, over those that the shop has.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            counts = catalog.load(options["root"], limits=options["limits"])
        except catalog.CatalogError as error:
            raise CommandError(str(error)) from error
        found = ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in counts.items())
        self.stdout.write(f"Catalog: {found}.")
