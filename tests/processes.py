"""Real processes for tests: they work on the test's own database, and end with the test."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from django.conf import settings
from django.db import connection

ROOT = Path(settings.BASE_DIR)
BIN = Path(sys.executable).parent


def database_url() -> str:
    """The test database as a URL, for another process."""
    values = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{values['NAME']}"
    password = f":{quote(values['PASSWORD'])}" if values["PASSWORD"] else ""
    return f"postgres://{quote(values['USER'])}{password}@{values['HOST']}:{values['PORT']}/{values['NAME']}"


def environment(**extra: str) -> dict[str, str]:
    """This environment, with the test database and without a broker unless `extra` names one."""
    mine = {**os.environ, "DATABASE_URL": database_url(), "GAMBREL_DATA": str(settings.DATA_DIR)}
    mine |= {"REDIS_URL": "", "PYTHONUNBUFFERED": "1", "DJANGO_SETTINGS_MODULE": "shop.settings"}
    return mine | extra


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])


def run(*command: str, **extra: str) -> subprocess.CompletedProcess[str]:
    """Run to the end, at most two minutes."""
    return subprocess.run(
        command, cwd=ROOT, env=environment(**extra), capture_output=True, text=True, timeout=120, check=False
    )


def run_python(code: str, **extra: str) -> subprocess.CompletedProcess[str]:
    return run(sys.executable, "-c", code, **extra)


@contextmanager
def started(*command: str, log: Path, **extra: str) -> Iterator[subprocess.Popen[bytes]]:
    """A process in a group of its own, ended with the block: asked first, then killed."""
    with (
        log.open("wb") as output,
        subprocess.Popen(
            command,
            cwd=ROOT,
            env=environment(**extra),
            stdout=output,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        ) as process,
    ):
        try:
            yield process
        finally:
            _end(process)


def _end(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is None:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(40)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)


def until(met: Callable[[], Any], what: str, *, log: Path, seconds: float = 60) -> Any:
    """Wait until `met()` is true and return it; after `seconds` fail with the process's log."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if answer := met():
            return answer
        time.sleep(0.1)
    raise AssertionError(f"{what} did not happen in {seconds} s:\n{log.read_text()}")


def answers(url: str) -> int:
    """The status with which `url` answers; 0 while nobody listens."""
    try:
        with urllib.request.urlopen(url, timeout=5) as response:
            return int(response.status)
    except urllib.error.HTTPError as error:
        with error:
            return error.code
    except OSError:
        return 0
