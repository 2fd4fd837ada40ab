"""Write a PDF of every design with invented values, to try a printer and its stock."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from labels.registry import DESIGNS, render
from labels.samples import SAMPLES


class Command(BaseCommand):
    help = "Write a PDF of every label and paper design with invented values."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "folder", type=Path, help="Where to write the PDF files; made when it is not there."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"]
        folder.mkdir(parents=True, exist_ok=True)
        written = 0
        for design, samples in SAMPLES.items():
            for name, values in samples.items():
                for stock in DESIGNS[design].stocks:
                    path = folder / f"{design}-{name}-{stock}.pdf"
                    path.write_bytes(render(design, values, stock=stock))
                    written += 1
        self.stdout.write(f"{written} files written to {folder}")
