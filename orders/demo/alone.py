"""One builder of the demo at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows has no such lock, and no make either.
    fcntl = None  # type: ignore[assignment]


@contextmanager
def alone(path: Path, waits: Callable[[], None]) -> Iterator[None]:
    """Within this block nobody else is in one of the same lock file; whoever comes second is told, and waits.

    The lock is the system's, not the file: one who is killed holds nothing, and the file that stays says nothing.
    """
    with path.open("a") as file:
        if fcntl is not None:
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                waits()
                fcntl.flock(file, fcntl.LOCK_EX)
        yield
