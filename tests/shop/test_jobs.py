"""Background work: written with the order, done once, done again after a crash, given up with a sentence."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection, transaction

from shop import jobs, tasks
from shop.models import Job, JobState
from tests import processes

NOON = datetime(2026, 11, 14, 19, 0, tzinfo=UTC)
Register = Callable[..., list[Any]]


@pytest.fixture
def register(monkeypatch: pytest.MonkeyPatch) -> Register:
    """Registers work of kind "test" for this test; returns the payloads that it was done with."""

    def remember(function: jobs.Function | None = None, *, repeatable: bool = True) -> list[Any]:
        done: list[Any] = []

        def note(payload: Any) -> dict[str, Any]:
            done.append(payload)
            return (function(payload) if function else None) or {}

        monkeypatch.setitem(jobs._handlers, "test", jobs.Handler(note, jobs.LEASE, repeatable))
        return done

    return remember


def fail_with(error: Exception) -> jobs.Function:
    def function(payload: Any) -> dict[str, Any]:
        raise error

    return function


@pytest.mark.django_db
class TestEnqueue:
    def test_a_job_is_a_waiting_row_due_at_once(self, register: Register) -> None:
        register()
        job = jobs.enqueue("test", {"order": 147}, at=NOON)
        assert (job.state, job.tries, job.payload) == (JobState.WAITING, 0, {"order": 147})
        assert (job.created_at, job.due_at) == (NOON, NOON)

    def test_a_later_job_waits_for_its_time(self, register: Register) -> None:
        done = register()
        jobs.enqueue("test", 1, at=NOON, due_at=NOON + timedelta(hours=1))
        assert jobs.work_all(NOON + timedelta(minutes=59)) == 0
        assert jobs.work_all(NOON + timedelta(minutes=60)) == 1
        assert done == [1]

    def test_the_same_id_again_is_the_first_job(self, register: Register) -> None:
        register()
        uid = uuid.uuid4()
        first = jobs.enqueue("test", {"labels": (1, 2)}, uid=uid)
        assert jobs.enqueue("test", {"labels": [1, 2]}, uid=uid).pk == first.pk
        assert Job.objects.count() == 1

    def test_the_same_id_for_other_work_is_refused(self, register: Register) -> None:
        register()
        uid = uuid.uuid4()
        jobs.enqueue("test", 1, uid=uid)
        with pytest.raises(ValueError, match="already stands for other work"):
            jobs.enqueue("test", 2, uid=uid)

    def test_unknown_work_is_refused_when_it_is_asked_for(self) -> None:
        with pytest.raises(jobs.UnknownKindError):
            jobs.enqueue("polish the counter", {})

    def test_only_plain_values_travel(self, register: Register) -> None:
        register()
        with pytest.raises(TypeError):
            jobs.enqueue("test", {"at": NOON})


def test_a_kind_has_one_handler() -> None:
    def first(payload: Any) -> dict[str, Any]:
        return {}

    def second(payload: Any) -> dict[str, Any]:
        return {}

    try:
        jobs.register("test-once")(first)
        jobs.register("test-once")(first)
        with pytest.raises(ValueError, match="already has a handler"):
            jobs.register("test-once")(second)
    finally:
        jobs._handlers.pop("test-once", None)
    with pytest.raises(ValueError, match="longer than"):
        jobs.register("k" * 31)


@pytest.mark.django_db(transaction=True)
class TestSameTransaction:
    def test_rolled_back_with_what_asked_for_it(self, register: Register, sent: list[int]) -> None:
        register()
        with transaction.atomic():
            assert jobs.enqueue("test", 1).pk
            transaction.set_rollback(True)
        assert not Job.objects.exists()
        assert sent == []

    def test_the_message_goes_out_after_the_commit(self, register: Register, sent: list[int]) -> None:
        register()
        with transaction.atomic():
            job = jobs.enqueue("test", 1)
            assert sent == []
        assert sent == [job.pk]

    def test_a_later_job_and_a_known_job_send_no_message(self, register: Register, sent: list[int]) -> None:
        register()
        first = jobs.enqueue("test", 1)
        jobs.enqueue("test", 1, uid=first.uid)
        jobs.enqueue("test", 1, due_at=NOON + timedelta(days=36_500))
        assert sent == [first.pk]

    @pytest.fixture
    def sent(self, settings: Any, monkeypatch: pytest.MonkeyPatch) -> list[int]:
        """A shop with a broker; the messages that were sent."""
        settings.REDIS_URL = "redis://127.0.0.1:1/0"
        sent: list[int] = []
        monkeypatch.setattr(tasks.run_job, "apply_async", lambda args, **_: sent.append(*args))
        return sent


@pytest.mark.django_db(transaction=True)
def test_without_a_broker_the_request_goes_on_and_the_sweep_finds_the_row(register: Register) -> None:
    done = register()
    code = """
import django, time
django.setup()
from shop import jobs
jobs.register("test")(lambda payload: {})
before = time.monotonic()
jobs.enqueue("test", 26)
assert time.monotonic() - before < 5
"""
    nobody = f"redis://127.0.0.1:{processes.free_port()}/0"
    ended = processes.run_python(code, REDIS_URL=nobody)
    assert ended.returncode == 0, ended.stderr
    assert "no message sent" in ended.stderr
    assert Job.objects.get().state == JobState.WAITING
    assert tasks.sweep() == 1
    assert done == [26]


@pytest.mark.django_db(transaction=True)
class TestClaim:
    @pytest.mark.parametrize(("guarded", "winners"), [(True, 1), (False, 2)])
    def test_two_workers_and_one_job(self, register: Register, guarded: bool, winners: int) -> None:
        """Both have read the row as waiting. Without the compare both take it; with it one does."""
        register()
        jobs.enqueue("test", 1, at=NOON)
        both_have_read, claimed = threading.Barrier(2, timeout=10), []

        def worker() -> None:
            try:
                job = jobs.open_jobs(NOON).get()
                both_have_read.wait()
                if guarded:
                    claimed.extend(filter(None, [jobs.claim(job, NOON)]))
                elif Job.objects.filter(pk=job.pk).update(state=JobState.RUNNING, tries=job.tries + 1):
                    claimed.append(job)
            finally:
                connection.close()

        in_threads(worker, 2)
        assert len(claimed) == winners

    def test_four_workers_do_each_of_forty_jobs_once(self, register: Register) -> None:
        done = register()
        for number in range(40):
            jobs.enqueue("test", number, at=NOON)

        def worker() -> None:
            try:
                jobs.work_all()
            finally:
                connection.close()

        in_threads(worker, 4)
        assert sorted(done) == list(range(40))
        assert set(Job.objects.values_list("state", "tries")) == {(JobState.DONE, 1)}


def in_threads(function: Callable[[], None], count: int) -> None:
    threads = [threading.Thread(target=function) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert not any(thread.is_alive() for thread in threads)


@pytest.mark.django_db
class TestLease:
    def test_a_running_job_is_left_alone_until_its_lease_ends(self, register: Register) -> None:
        done = register()
        jobs.enqueue("test", 1, at=NOON)
        assert jobs.claim_next(NOON) is not None
        assert jobs.claim_next(NOON + jobs.LEASE - timedelta(seconds=1)) is None
        assert jobs.work_all(NOON + jobs.LEASE) == 1
        assert done == [1]
        assert Job.objects.get().tries == 2

    def test_a_late_worker_does_not_overwrite_the_second(self, register: Register) -> None:
        register()
        jobs.enqueue("test", 1, at=NOON)
        late = jobs.claim_next(NOON)
        second = jobs.claim_next(NOON + jobs.LEASE)
        assert late is not None
        assert second is not None
        assert not jobs._settle(late, state=JobState.DONE, done_at=NOON, result={"by": "late"})
        assert jobs._settle(second, state=JobState.DONE, done_at=NOON, result={"by": "second"})
        assert Job.objects.get().result == {"by": "second"}

    def test_work_that_keeps_vanishing_is_given_up(self, register: Register) -> None:
        done = register()
        jobs.enqueue("test", 1, at=NOON)
        for number in range(jobs.MAX_TRIES):
            assert jobs.claim_next(NOON + number * jobs.LEASE) is not None
        assert jobs.work_all(NOON + jobs.MAX_TRIES * jobs.LEASE) == 0
        job = Job.objects.get()
        assert (job.state, job.error) == (
            JobState.FAILED,
            "The work stopped midway 5 times and was given up.",
        )
        assert done == []

    def test_work_that_must_not_be_done_twice_asks_for_a_look(self, register: Register) -> None:
        done = register(repeatable=False)
        jobs.enqueue("test", 1, at=NOON)
        assert jobs.claim_next(NOON) is not None
        assert jobs.work_all(NOON + jobs.LEASE) == 0
        job = Job.objects.get()
        assert job.state == JobState.FAILED
        assert "it is not known whether it was done" in job.error
        assert done == []


@pytest.fixture
def killed_worker() -> Iterator[subprocess.Popen[str]]:
    """Another process that has claimed the job and stands in the middle of it when it is killed."""
    code = """
import django, time
django.setup()
from shop import jobs
@jobs.register("test")
def stand_still(payload):
    print("claimed", flush=True)
    time.sleep(60)
jobs.work_all()
"""
    with subprocess.Popen(
        [sys.executable, "-c", code],
        cwd=processes.ROOT,
        env=processes.environment(),
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        yield process
        process.kill()


@pytest.mark.django_db(transaction=True)
def test_a_killed_workers_job_is_done_by_the_next_sweep(
    register: Register, request: pytest.FixtureRequest
) -> None:
    done = register()
    jobs.enqueue("test", "label", at=NOON)
    process = request.getfixturevalue("killed_worker")
    assert process.stdout.readline() == "claimed\n"
    os.kill(process.pid, signal.SIGKILL)
    assert process.wait(10) == -signal.SIGKILL
    job = Job.objects.get()
    assert (job.state, job.tries) == (JobState.RUNNING, 1)
    assert job.lease_until is not None
    assert jobs.work_all(job.lease_until - timedelta(seconds=1)) == 0
    assert jobs.work_all(job.lease_until) == 1
    job.refresh_from_db()
    assert (job.state, job.tries, done) == (JobState.DONE, 2, ["label"])


@pytest.mark.django_db
class TestOutcome:
    def test_done_keeps_the_result_and_forgets_the_error(self, register: Register) -> None:
        answers = iter([OSError("The printer is busy."), {"pages": 3}])

        def function(payload: Any) -> dict[str, Any]:
            answer = next(answers)
            if isinstance(answer, Exception):
                raise answer
            return answer

        register(function)
        jobs.enqueue("test", 1, at=NOON)
        first = jobs.work_one(NOON)
        assert first is not None
        assert (first.state, first.error) == (JobState.WAITING, "The printer is busy.")
        later = NOON + timedelta(seconds=5)
        second = jobs.work_one(later)
        assert second is not None
        assert (second.state, second.result, second.error) == (JobState.DONE, {"pages": 3}, "")
        assert (second.done_at, second.lease_until) == (later, None)

    def test_it_is_tried_five_times_ever_more_slowly(self, register: Register) -> None:
        done = register(fail_with(OSError("The printer is busy.")))
        jobs.enqueue("test", 1, at=NOON)
        now = NOON
        waits = []
        while (job := jobs.work_one(now)) is not None and job.state == JobState.WAITING:
            assert jobs.work_one(job.due_at - timedelta(seconds=1)) is None
            waits.append(int((job.due_at - now).total_seconds()))
            now = job.due_at
        assert waits == [5, 30, 120, 600]
        job = Job.objects.get()
        assert (job.state, job.tries, job.error) == (JobState.FAILED, 5, "The printer is busy.")
        assert len(done) == 5
        assert jobs.work_all(now + timedelta(days=365)) == 0

    def test_work_that_gives_up_is_not_tried_again(self, register: Register) -> None:
        register(fail_with(jobs.GiveUpError("This order was voided")))
        jobs.enqueue("test", 1, at=NOON)
        jobs.work_one(NOON)
        job = Job.objects.get()
        assert (job.state, job.tries, job.error) == (JobState.FAILED, 1, "This order was voided")

    @pytest.mark.parametrize(
        ("error", "sentence"),
        [
            (jobs.JobError("No paper"), "No paper"),
            (jobs.JobError(), "The work failed without saying why."),
            (KeyError("order"), "KeyError: 'order'"),
            (ZeroDivisionError(), "ZeroDivisionError"),
            (OSError("The printer is off."), "The printer is off."),
        ],
    )
    def test_the_error_is_kept_for_a_person(
        self, register: Register, error: Exception, sentence: str
    ) -> None:
        register(fail_with(error))
        jobs.enqueue("test", 1, at=NOON)
        jobs.work_one(NOON)
        assert Job.objects.get().error == sentence

    def test_a_result_that_cannot_be_kept_is_an_error(self, register: Register) -> None:
        register(lambda payload: {"at": NOON})
        jobs.enqueue("test", 1, at=NOON)
        jobs.work_one(NOON)
        job = Job.objects.get()
        assert job.state == JobState.WAITING
        assert job.error.startswith("TypeError: ")

    def test_one_bad_job_does_not_hold_up_the_next(self, register: Register) -> None:
        def function(payload: Any) -> dict[str, Any]:
            return {"share": 12 // payload}

        register(function)
        for divisor in (0, 4):
            jobs.enqueue("test", divisor, at=NOON)
        assert jobs.work_all(NOON) == 2
        assert [job.result for job in Job.objects.order_by("id")] == [{}, {"share": 3}]


@pytest.mark.django_db
class TestMessages:
    def test_a_message_without_a_row_does_no_harm(self, register: Register) -> None:
        done = register()
        assert tasks.run_job(987_654) is None
        assert (done, Job.objects.count()) == ([], 0)

    def test_a_message_that_comes_twice_is_done_once(self, register: Register) -> None:
        done = register()
        job = jobs.enqueue("test", 1)
        tasks.run_job(job.pk)
        tasks.run_job(job.pk)
        assert done == [1]

    def test_a_message_works_its_own_row_only(self, register: Register) -> None:
        done = register()
        jobs.enqueue("test", "older", at=NOON - timedelta(days=900))
        mine = jobs.enqueue("test", "mine", at=NOON - timedelta(days=800))
        tasks.run_job(mine.pk)
        assert done == ["mine"]

    def test_a_row_without_a_message_is_swept_up(self, register: Register) -> None:
        done = register()
        jobs.enqueue("test", 1)
        assert tasks.sweep() == 1
        assert done == [1]

    def test_a_sweep_ends_even_when_much_is_waiting(
        self, register: Register, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(tasks, "SWEEP_LIMIT", 2)
        done = register()
        for number in range(3):
            jobs.enqueue("test", number)
        assert [tasks.sweep(), tasks.sweep(), tasks.sweep()] == [2, 1, 0]
        assert done == [0, 1, 2]


@pytest.mark.django_db(transaction=True)
class TestLoop:
    def test_it_works_what_comes_and_outlives_an_error(
        self, register: Register, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        stop = threading.Event()
        done = register(lambda payload: stop.set() if payload == "last" else None)
        work_one, calls = jobs.work_one, []

        def broken_first(now: datetime | None = None) -> Job | None:
            calls.append(now)
            if len(calls) == 1:
                raise OSError("The database is away.")
            return work_one(now)

        monkeypatch.setattr(jobs, "work_one", broken_first)
        jobs.enqueue("test", "first")
        jobs.enqueue("test", "last")
        in_threads(lambda: jobs.run_loop(stop), 1)
        assert done == ["first", "last"]

    def test_run_jobs_once_says_how_many(
        self, register: Register, capsys: pytest.CaptureFixture[str]
    ) -> None:
        register()
        jobs.enqueue("test", 1)
        jobs.enqueue("test", 2)
        call_command("run_jobs", "--once")
        assert capsys.readouterr().out == "Jobs worked: 2\n"
