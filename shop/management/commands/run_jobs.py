"""Work the job rows without serving pages."""

from __future__ import annotations

import signal
import threading
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from shop import jobs


class Command(BaseCommand):
    help = "Works the waiting jobs, until it is stopped or, with --once, until none is left."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--once", action="store_true", help="Work what is due now, then end.")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["once"]:
            self.stdout.write(f"Jobs worked: {jobs.work_all()}")
            return
        stop = threading.Event()
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: stop.set())
        self.stdout.write("Working jobs; Ctrl-C ends it.")
        jobs.run_loop(stop)
        self.stdout.write("Stopped.")
