"""Background work as rows. The row is the truth: it is claimed by compare-and-set for a lease, worked outside
any transaction, and settled only by whoever still holds the claim. The embedded loop and Celery call the same
functions; a Celery message is only a nudge, and the sweep finds what a lost message left.
"""

from __future__ import annotations

import json
import logging
import threading
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from django.conf import settings
from django.db import close_old_connections, connection, transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from shop.models import Job, JobState

log = logging.getLogger("gambrel.jobs")

MAX_TRIES = 5
LEASE = timedelta(minutes=10)
# Waiting after the first, second, third and fourth failure.
BACK_OFF = (timedelta(seconds=5), timedelta(seconds=30), timedelta(minutes=2), timedelta(minutes=10))
KIND_LENGTH = 30
LOOP_PAUSE_SECONDS = 0.5

Function = Callable[[Any], dict[str, Any] | None]


class JobError(Exception):
    """Work that failed and may be tried again; its text is a sentence for the person who reads the job."""


class GiveUpError(JobError):
    """Work that failed and must not be tried again, such as a print that may already have come out."""


class UnknownKindError(LookupError):
    """A kind of work that nothing has registered."""


@dataclass(frozen=True, slots=True)
class Handler:
    function: Function
    lease: timedelta
    repeatable: bool


_handlers: dict[str, Handler] = {}


def register(
    kind: str, *, lease: timedelta = LEASE, repeatable: bool = True
) -> Callable[[Function], Function]:
    """Decorator: `function(payload) -> dict` does the jobs of this kind. Called from an app's `ready`.

    The function runs outside any transaction and must end within `lease`. Not `repeatable`: when a crash
    hides whether the work was done, the job fails and says so instead of doing it twice.
    """
    if len(kind) > KIND_LENGTH:
        raise ValueError(f"“{kind}” is longer than {KIND_LENGTH} characters.")

    def remember(function: Function) -> Function:
        known = _handlers.get(kind)
        if known is not None and known.function is not function:
            raise ValueError(f"“{kind}” already has a handler.")
        _handlers[kind] = Handler(function, lease, repeatable)
        return function

    return remember


def enqueue(
    kind: str,
    payload: Any,
    *,
    at: datetime | None = None,
    due_at: datetime | None = None,
    uid: uuid.UUID | None = None,
) -> Job:
    """Write a job in the caller's transaction. The same `uid` again returns the first job.

    `payload` is plain JSON values. Raises UnknownKindError, TypeError for a payload that is not JSON, and
    ValueError for a `uid` that already stands for other work.
    """
    if kind not in _handlers:
        raise UnknownKindError(f"Nothing here knows how to do “{kind}”.")
    payload = json.loads(json.dumps(payload))
    at = at or timezone.now()
    job, created = Job.objects.get_or_create(
        uid=uid or uuid.uuid4(),
        defaults={"kind": kind, "payload": payload, "created_at": at, "due_at": due_at or at},
    )
    if not created and (job.kind, job.payload) != (kind, payload):
        raise ValueError("This job id already stands for other work.")
    if created and settings.REDIS_URL and job.due_at <= timezone.now():
        transaction.on_commit(partial(_nudge, job.pk), robust=True)
    return job


def _nudge(job_id: int) -> None:
    """Tell a Celery worker; without a broker the row waits for the sweep and the request goes on."""
    try:
        from shop.tasks import run_job

        run_job.apply_async((job_id,), retry=False)
    except Exception as error:
        log.warning("Job %s: no message sent (%s); the sweep will find it.", job_id, error)


def open_jobs(now: datetime) -> QuerySet[Job]:
    """Jobs to be worked at `now`, oldest first: due and waiting, or left by a worker whose lease ran out."""
    waiting = Q(state=JobState.WAITING, due_at__lte=now)
    abandoned = Q(state=JobState.RUNNING, lease_until__lte=now)
    return Job.objects.filter(waiting | abandoned).order_by("due_at", "id")


def claim(job: Job, now: datetime) -> Job | None:
    """Take this open job, or None when somebody else was faster or it may not be tried again.

    Compare-and-set on the state and the number of tries; the latter also ends a late worker's claim.
    """
    handler = _handlers.get(job.kind)
    if job.state == JobState.RUNNING and (sentence := _not_again(job, handler)):
        _settle(job, state=JobState.FAILED, done_at=now, error=sentence)
        return None
    values = {
        "state": JobState.RUNNING,
        "lease_until": now + (handler.lease if handler else LEASE),
        "tries": job.tries + 1,
    }
    if Job.objects.filter(pk=job.pk, state=job.state, tries=job.tries).update(**values) != 1:
        return None
    job.refresh_from_db()
    return job if job.tries == values["tries"] else None


def _not_again(job: Job, handler: Handler | None) -> str:
    """Why a job whose worker vanished is not worked once more; empty when it is."""
    if handler is not None and not handler.repeatable:
        return "The work stopped midway: it is not known whether it was done. Look before doing it again."
    if job.tries >= MAX_TRIES:
        return f"The work stopped midway {job.tries} times and was given up."
    return ""


def claim_next(now: datetime | None = None) -> Job | None:
    """Claim the oldest open job, or None when nothing is open."""
    now = now or timezone.now()
    # Ends: a job that could not be claimed is no longer open.
    while (job := open_jobs(now).first()) is not None:
        if claimed := claim(job, now):
            return claimed
    return None


def _settle(job: Job, **values: Any) -> bool:
    """Write the outcome if the claim still stands; a late worker's outcome is dropped."""
    mine = Job.objects.filter(pk=job.pk, state=JobState.RUNNING, tries=job.tries)
    if mine.update(lease_until=None, **values) != 1:
        log.warning("Job %s (%s): the claim had ended, so its outcome is dropped.", job.pk, job.kind)
        return False
    job.refresh_from_db()
    return True


def _sentence(error: Exception) -> str:
    text = str(error).strip()
    if isinstance(error, JobError) or text.endswith("."):
        return text or "The work failed without saying why."
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def _failed(job: Job, error: Exception, now: datetime) -> None:
    final = isinstance(error, GiveUpError) or job.tries >= MAX_TRIES
    if final:
        _settle(job, state=JobState.FAILED, done_at=now, error=_sentence(error))
    else:
        due_at = now + BACK_OFF[job.tries - 1]
        _settle(job, state=JobState.WAITING, due_at=due_at, error=_sentence(error))


def _work(job: Job, now: datetime | None) -> Job:
    """Do a claimed job and settle it; an error of the handler becomes the job's sentence."""
    try:
        handler = _handlers.get(job.kind)
        if handler is None:
            raise UnknownKindError(f"Nothing here knows how to do “{job.kind}”.")
        result = handler.function(job.payload) or {}
        json.dumps(result)
    except Exception as error:
        log.warning("Job %s (%s) failed, try %s.", job.pk, job.kind, job.tries, exc_info=True)
        _failed(job, error, now or timezone.now())
    else:
        _settle(job, state=JobState.DONE, done_at=now or timezone.now(), result=result, error="")
    return job


def work(job_id: int, now: datetime | None = None) -> Job | None:
    """Work this one job if it is open; None when it is not, or when there is no such row."""
    moment = now or timezone.now()
    job = open_jobs(moment).filter(pk=job_id).first()
    claimed = claim(job, moment) if job is not None else None
    return _work(claimed, now) if claimed is not None else None


def work_one(now: datetime | None = None) -> Job | None:
    """Claim and work the oldest open job; None when nothing is open. `now` is for tests and replay."""
    job = claim_next(now)
    return _work(job, now) if job is not None else None


def work_all(now: datetime | None = None, *, limit: int | None = None) -> int:
    """Work open jobs until none is left or `limit` is reached; returns how many were worked."""
    worked = 0
    while (limit is None or worked < limit) and work_one(now) is not None:
        worked += 1
    return worked


def run_loop(stop: threading.Event) -> None:
    """Work jobs until `stop` is set. A database error is logged and tried again: the loop outlives it."""
    while not stop.is_set():
        worked = None
        try:
            close_old_connections()
            worked = work_one()
        except Exception:
            log.exception("The job loop met an error and goes on.")
        if worked is None:
            stop.wait(LOOP_PAUSE_SECONDS)
    connection.close()
