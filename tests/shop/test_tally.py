"""The closing count of .ci/run: a skip is no pass, and a run that broke off is a failure."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings

TALLY = Path(settings.BASE_DIR) / ".ci/tally.py"
MIXED = """
import pytest
def test_good(): pass
def test_bad(): assert 0
@pytest.mark.skip
def test_skipped(): pass
@pytest.mark.xfail
def test_expected(): assert 0
@pytest.fixture
def broken(): raise OSError
def test_error(broken): pass
"""


def tally_of(folder: Path, source: str | None) -> str:
    """What is counted for a run of pytest on this file; no file: a run that finds nothing."""
    if source is not None:
        (folder / "test_it.py").write_text(source)
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:django", "-p", "no:cacheprovider"]
    ended = subprocess.run(
        [*command, "-c", "/dev/null", f"--rootdir={folder}", "--junitxml=report.xml", "."],
        cwd=folder,
        capture_output=True,
        check=False,
    )
    return counted(folder / "report.xml", ended.returncode)


def counted(report: Path, status: int) -> str:
    command = [sys.executable, str(TALLY), str(report), str(status)]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


@pytest.mark.parametrize(
    ("source", "count"),
    [
        ("def test_good(): pass", "1 0\n"),
        (MIXED, "1 4\n"),
        ("import nothing_of_that_name", "0 1\n"),
        (None, "0 1\n"),
    ],
)
def test_what_counts(tmp_path: Path, source: str | None, count: str) -> None:
    assert tally_of(tmp_path, source) == count


def test_a_run_without_a_report_failed_unless_there_was_nothing_to_run(tmp_path: Path) -> None:
    assert counted(tmp_path / "none.xml", 1) == "0 1\n"
    assert counted(tmp_path / "none.xml", 5) == "0 0\n"


def test_a_run_that_says_no_while_every_test_passed_failed(tmp_path: Path) -> None:
    report = tmp_path / "report.xml"
    report.write_text('<testsuites><testsuite tests="3" failures="0" errors="0" skipped="0"/></testsuites>')
    assert counted(report, 0) == "3 0\n"
    assert counted(report, 3) == "3 1\n"
