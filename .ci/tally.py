"""Prints "PASSED FAILED" of one pytest run, from its JUnit file and exit code. A skip counts as failed."""

from __future__ import annotations

import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

NO_TESTS = 5


def tally(report: Path, status: int) -> tuple[int, int]:
    """Passed and failed. A run that broke off, or said no while every test passed, is one failure."""
    if not report.exists():
        return (0, 0) if status == NO_TESTS else (0, 1)
    suites = list(ElementTree.parse(report).getroot().iter("testsuite"))  # noqa: S314
    total = sum(int(suite.get("tests", 0)) for suite in suites)
    bad = sum(int(suite.get(name, 0)) for suite in suites for name in ("failures", "errors", "skipped"))
    broke_off = total == 0 or (status != 0 and bad == 0)
    return total - bad, bad + broke_off


if __name__ == "__main__":
    passed, failed = tally(Path(sys.argv[1]), int(sys.argv[2]))
    sys.stdout.write(f"{passed} {failed}\n")
