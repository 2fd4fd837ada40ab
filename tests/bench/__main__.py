"""`python -m tests.bench`: how long things take, as ratios within one run. DATABASE_URL chooses the database.

python -m tests.bench yields --seasons 10 --json yields.json
"""

from __future__ import annotations

import argparse
import importlib
import os
import signal
import sys
import tempfile
from pathlib import Path

from tests.bench.configured import configure

BENCHES = ("yields",)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__.splitlines()[0])
    parser.add_argument("bench", nargs="*", default=list(BENCHES), choices=BENCHES)
    parser.add_argument("--animals", type=int, default=1500, help="finished animals of a season")
    parser.add_argument("--seasons", type=int, default=10, help="seasons kept")
    parser.add_argument("--rounds", type=int, default=7, help="times that each call is measured")
    parser.add_argument("--pages", nargs="+", default=["audit"], help="address names of the pages")
    parser.add_argument("--json", default="", help="folder to write what was measured to")
    asked = parser.parse_args()
    # Stopped from outside, it still drops its databases.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    with tempfile.TemporaryDirectory(prefix="gambrel-bench-") as folder:
        configure(folder)
        for name in asked.bench:
            measure(name, asked, Path(folder))


def measure(name: str, asked: argparse.Namespace, folder: Path) -> None:
    """Run one bench on databases of its own, print its table and save it where asked; what there is, if it stops."""
    from tests.bench.database import databases
    from tests.bench.measure import Report

    report = Report(name)
    try:
        with databases(folder, os.environ.get("DATABASE_URL", "")) as there:
            report.facts["database"] = there.vendor
            importlib.import_module(f"tests.bench.{name}").run(there, asked, report)
    finally:
        sys.stdout.write(report.text() + "\n")
    if asked.json:
        report.save(Path(asked.json) / f"{name}-{there.vendor}.json")


if __name__ == "__main__":
    main()
