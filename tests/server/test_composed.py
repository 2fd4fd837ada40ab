"""The commands of docker-compose.yml, started for real on PostgreSQL and Redis, see a job done."""

from __future__ import annotations

import os
import re
import shlex
import signal
import uuid
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from subprocess import Popen
from typing import Any

import pytest
import yaml
from django.conf import settings
from django.db import connection
from django.utils import timezone
from redis import Redis

from shop.models import Job, JobState
from tests import processes

pytestmark = [pytest.mark.server, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def redis_url(worker_id: str) -> Iterator[str]:
    """A Redis database of this test process's own, emptied before and after."""
    assert settings.REDIS_URL, "REDIS_URL is not set (see make test-server)"
    assert connection.vendor == "postgresql", "DATABASE_URL names no PostgreSQL (see make test-server)"
    number = 1 + int(re.sub(r"\D", "", worker_id) or 0)
    url = re.sub(r"(/\d*)?$", f"/{number}", settings.REDIS_URL, count=1)
    with Redis.from_url(url) as redis:
        redis.flushdb()
        yield url
        redis.flushdb()


def command(service: str, **replaced: str) -> list[str]:
    """A service's command as the file has it, with the words that belong to a container replaced."""
    compose = yaml.safe_load((Path(settings.BASE_DIR) / "docker-compose.yml").read_text())
    words = shlex.split(compose["services"][service]["command"])
    for old, new in replaced.items():
        assert old in words, f"{old} is not in {words}"
        words[words.index(old)] = new
    return [str(processes.BIN / words[0]), *words[1:]]


def waiting_job() -> Job:
    """A row without a message."""
    now = timezone.now()
    return Job.objects.create(
        uid=uuid.uuid4(), kind="test-server", payload=[26, 147], created_at=now, due_at=now
    )


def done(job: Job) -> bool:
    job.refresh_from_db()
    return job.state == JobState.DONE


def worker(log: Path, redis_url: str) -> AbstractContextManager[Popen[bytes]]:
    words = command("worker")
    return processes.started(*words, "--include", "tests.server.handlers", log=log, REDIS_URL=redis_url)


def enqueue_elsewhere(redis_url: str) -> None:
    """As a request does it: another process writes the row and sends the message."""
    code = """
import django
django.setup()
from shop import jobs
from tests.server import handlers
jobs.enqueue("test-server", [26, 147])
"""
    ended = processes.run_python(code, REDIS_URL=redis_url)
    assert (ended.returncode, ended.stderr) == (0, "")


def test_the_web_command_answers(tmp_path: Path, redis_url: str) -> None:
    port, log = processes.free_port(), tmp_path / "web"
    words = command("web", **{"0.0.0.0:8000": f"127.0.0.1:{port}"})
    with processes.started(*words, log=log, REDIS_URL=redis_url) as web:
        url = f"http://127.0.0.1:{port}/health/"
        assert processes.until(lambda: processes.answers(url), "an answer", log=log) == 200
        web.send_signal(signal.SIGTERM)
        assert web.wait(40) == 0


def test_a_message_brings_the_job_to_the_worker(tmp_path: Path, redis_url: str) -> None:
    log = tmp_path / "worker"
    enqueue_elsewhere(redis_url)
    with Redis.from_url(redis_url) as redis:
        assert redis.llen("celery") == 1
    with worker(log, redis_url) as process:
        job = Job.objects.get()
        processes.until(lambda: done(job), "the job", log=log)
        assert (job.tries, job.result["sum"]) == (1, 173)
        assert job.result["process"] not in {os.getpid(), process.pid}
        process.send_signal(signal.SIGTERM)
        assert process.wait(40) == 0


def test_beat_has_a_row_without_a_message_swept_up(tmp_path: Path, redis_url: str) -> None:
    job, log, schedule = waiting_job(), tmp_path / "worker", tmp_path / "beat-schedule"
    words = command("beat", **{"/tmp/beat-schedule": str(schedule)})
    with worker(log, redis_url), processes.started(*words, log=tmp_path / "beat", REDIS_URL=redis_url):
        processes.until(lambda: done(job), "the sweep", log=log)
        # What the container's health check looks at.
        assert list(tmp_path.glob("beat-schedule*"))
    assert (job.tries, job.result["sum"]) == (1, 173)


def test_the_workers_health_check_answers(tmp_path: Path, redis_url: str) -> None:
    log = tmp_path / "worker"
    compose: dict[str, Any] = yaml.safe_load((Path(settings.BASE_DIR) / "docker-compose.yml").read_text())
    _, check = compose["services"]["worker"]["healthcheck"]["test"]
    host = os.uname().nodename
    words = shlex.split(check.replace("$$HOSTNAME", host))
    ask = [str(processes.BIN / words[0]), *words[1:]]
    with worker(log, redis_url):
        processes.until(lambda: " ready." in log.read_text(), "a ready worker", log=log)
        ended = processes.run(*ask, REDIS_URL=redis_url)
        assert ended.returncode == 0, ended.stdout
    assert processes.run(*ask, REDIS_URL=redis_url).returncode != 0
