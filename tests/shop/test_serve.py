"""One command serves the pages and works the jobs, says why it cannot, and stops when it is asked to."""

from __future__ import annotations

import signal
import socket
import sys
from pathlib import Path

import pytest
from django.utils import timezone

from shop.models import Job, JobState
from tests import processes

MANAGE = (sys.executable, "manage.py")


def waiting_job() -> Job:
    """A row of a kind that the served process does not know: worked there, it fails with a sentence."""
    now = timezone.now()
    uid = "2f0c3a4e-52b5-4f38-9b0b-6f5d1c0c8d11"
    return Job.objects.create(uid=uid, kind="nobody's", payload={}, created_at=now, due_at=now)


def tried(job: Job) -> bool:
    job.refresh_from_db()
    return job.tries == 1 and job.state == JobState.WAITING


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_serves_works_and_stops(tmp_path: Path, number: signal.Signals) -> None:
    job, port, log = waiting_job(), processes.free_port(), tmp_path / "log"
    with processes.started(*MANAGE, "serve", "--port", str(port), log=log) as process:
        url = f"http://127.0.0.1:{port}/health/"
        assert processes.until(lambda: processes.answers(url), "an answer", log=log) == 200
        processes.until(lambda: tried(job), "work", log=log)
        process.send_signal(number)
        assert process.wait(40) == 0
    assert f"http://127.0.0.1:{port}/" in log.read_text()
    assert log.read_text().endswith("Stopped.\n")
    assert "Warning" not in log.read_text()
    assert job.error == "Nothing here knows how to do “nobody's”."


@pytest.mark.django_db(transaction=True)
def test_on_all_addresses_it_says_what_the_tablets_need(tmp_path: Path) -> None:
    port, log = processes.free_port(), tmp_path / "log"
    with processes.started(*MANAGE, "serve", "--host", "0.0.0.0", "--port", str(port), log=log) as process:
        url = f"http://127.0.0.1:{port}/health/"
        assert processes.until(lambda: processes.answers(url), "an answer", log=log) == 200
        process.send_signal(signal.SIGTERM)
        assert process.wait(40) == 0
    assert f"http://localhost:{port}/" in log.read_text()
    assert "ALLOWED_HOSTS" in log.read_text()


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("extra", [(), ("--check",)])
def test_a_taken_port_is_a_sentence(extra: tuple[str, ...]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = str(listener.getsockname()[1])
        ended = processes.run(*MANAGE, "serve", "--port", port, *extra)
    assert ended.returncode == 1
    assert f"Port {port} is already taken" in ended.stderr
    assert "Traceback" not in ended.stderr


@pytest.mark.django_db(transaction=True)
def test_a_free_port_passes_the_check() -> None:
    ended = processes.run(*MANAGE, "serve", "--port", str(processes.free_port()), "--check")
    assert (ended.returncode, ended.stdout, ended.stderr) == (0, "", "")


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("host", "port"), [("127.0.0.1", "99999"), ("127.0.0.1", "-1"), ("no.such.host.invalid", "8000")]
)
def test_an_impossible_address_is_a_sentence(host: str, port: str) -> None:
    ended = processes.run(*MANAGE, "serve", "--host", host, "--port", port)
    assert ended.returncode == 1
    assert "Cannot listen on " in ended.stderr
    assert "Traceback" not in ended.stderr


@pytest.mark.django_db
def test_an_old_database_is_a_sentence(tmp_path: Path) -> None:
    empty = f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    port = str(processes.free_port())
    ended = processes.run(*MANAGE, "serve", "--port", port, DATABASE_URL=empty)
    assert ended.returncode == 1
    assert "Run “python manage.py migrate” first." in ended.stderr


@pytest.mark.django_db(transaction=True)
def test_run_jobs_works_until_it_is_stopped(tmp_path: Path) -> None:
    job, log = waiting_job(), tmp_path / "log"
    with processes.started(*MANAGE, "run_jobs", log=log) as process:
        processes.until(lambda: tried(job), "work", log=log)
        process.send_signal(signal.SIGTERM)
        assert process.wait(40) == 0
    assert log.read_text().endswith("Stopped.\n")
