"""Timing side by side: what is compared runs in turn within one process, so a busy machine slows both alike.

A ratio is the median of the rounds' own ratios, never one time against a number written down somewhere.
"""

from __future__ import annotations

import json
import platform
import sys
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext

ROUNDS = 7
Call = Callable[[], object]


def seconds(call: Call) -> float:
    """Wall time of one call."""
    began = perf_counter()
    call()
    return perf_counter() - began


def side_by_side(calls: Mapping[str, Call], rounds: int = ROUNDS) -> dict[str, list[float]]:
    """The times of each call by its name, taken in turn; a first turn of each is thrown away."""
    for call in calls.values():
        call()
    times: dict[str, list[float]] = {name: [] for name in calls}
    for _ in range(rounds):
        for name, call in calls.items():
            times[name].append(seconds(call))
    return times


def ratio(times: list[float], against: list[float]) -> float:
    """How many times as long as the other: the median over the rounds."""
    return median(mine / other for mine, other in zip(times, against, strict=True))


def note(text: str) -> None:
    """Say on the terminal what is being done; the figures alone go to the output."""
    sys.stderr.write(f"{text} ...\n")


def queries_of(call: Call) -> int:
    """How many queries a call makes. Counting slows it down, so it is never timed as well."""
    with CaptureQueriesContext(connection) as seen:
        call()
    return len(seen)


@dataclass
class Line:
    """One measured thing. `ratio` is against `against`; `aim` is the most that the ratio should be."""

    name: str
    seconds: float | None = None
    ratio: float | None = None
    against: str = ""
    aim: float | None = None
    queries: int | None = None

    @property
    def verdict(self) -> str:
        if self.ratio is None or self.aim is None:
            return ""
        return f"within {self.aim:g}" if self.ratio <= self.aim else f"BEYOND {self.aim:g}"


@dataclass
class Report:
    """Measured lines under headings, printed as a table and saved as JSON."""

    title: str
    facts: dict[str, Any] = field(default_factory=dict)
    sections: dict[str, list[Line]] = field(default_factory=dict)

    def add(self, section: str, *lines: Line) -> None:
        self.sections.setdefault(section, []).extend(lines)

    def compared(
        self,
        section: str,
        times: Mapping[str, list[float]],
        against: str,
        aims: Mapping[str, float] | None = None,
        queries: Mapping[str, int] | None = None,
    ) -> None:
        """A section of calls that ran side by side, each as a ratio to one of them."""
        for name, own in times.items():
            self.add(
                section,
                Line(
                    name=name,
                    seconds=median(own),
                    ratio=None if name == against else ratio(own, times[against]),
                    against="" if name == against else against,
                    aim=(aims or {}).get(name),
                    queries=(queries or {}).get(name),
                ),
            )

    def median_of(self, name: str) -> float:
        """The median time of what was measured first under a name."""
        lines = [line for section in self.sections.values() for line in section if line.name == name]
        return lines[0].seconds or 0.0

    def text(self) -> str:
        """The table as it is printed."""
        out = [self.title, *(f"  {name}: {value}" for name, value in self.facts.items())]
        for section, lines in self.sections.items():
            width = max(len(line.name) for line in lines)
            out += ["", section]
            out += [f"  {line.name:<{width}}  {_cells(line)}".rstrip() for line in lines]
        return "\n".join(out)

    def save(self, path: Path) -> None:
        """Write everything measured as JSON."""
        machine = {"python": platform.python_version(), "machine": platform.machine()}
        path.write_text(json.dumps({**asdict(self), **machine}, indent=2, default=str) + "\n")


def _cells(line: Line) -> str:
    time = "" if line.seconds is None else f"{line.seconds * 1000:.1f} ms"
    times = "" if line.ratio is None else f"x {line.ratio:.2f} {line.against}"
    queries = "" if line.queries is None else f"{line.queries} queries"
    return f"{time:>12}  {queries:>11}  {times:<36}  {line.verdict}"
