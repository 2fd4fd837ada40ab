"""What is installed is what is written down: each package pinned once, locked, and with its reason."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)


def normal(name: str) -> str:
    """A package's name in one form, as PyPA's name normalization specification has it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name.partition("[")[0]).lower()


def pins(lines: list[str]) -> dict[str, str]:
    return {normal(name): number for name, number in (line.split("==") for line in lines)}


def declared() -> dict[str, str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return pins([*project["dependencies"], *project["optional-dependencies"]["dev"]])


def locked() -> dict[str, str]:
    lines = (ROOT / "requirements.lock").read_text().splitlines()
    return pins([line for line in lines if not line.startswith("#")])


def test_the_lock_holds_every_declared_package_in_its_version() -> None:
    assert {name: number for name, number in locked().items() if name in declared()} == declared()


@pytest.mark.parametrize("name", sorted(locked()))
def test_the_locked_version_is_the_one_under_test(name: str) -> None:
    assert version(name) == locked()[name]


def test_every_package_has_its_reason() -> None:
    rows = re.findall(r"^\| ([\w, -]+) \| .+ \|$", (ROOT / "DEVELOPERS.md").read_text(), re.MULTILINE)
    explained = {normal(name) for row in rows for name in row.split(", ")}
    assert set(declared()) <= explained
