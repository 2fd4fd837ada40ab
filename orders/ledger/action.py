"""How anything is recorded: one action, one transaction, one event.

`@action(verb)` turns a function into an action. The function gets an `Entry` and works through it; its changes run in
a savepoint, so that a refusal undoes them all and is itself recorded. The sender's id makes a repeat harmless: the
same id gets the first answer again, and the same id with another payload is refused.
"""

from __future__ import annotations

from collections.abc import Callable
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial, wraps
from typing import Any, Concatenate, ParamSpec, TypeVar
from uuid import UUID, uuid4

from django.db import IntegrityError, transaction
from django.utils import timezone

from orders.intake.models import Animal, Order
from orders.ledger.entry import Answer, By, Entry
from orders.ledger.models import Event, Outcome, Run
from orders.ledger.payload import clean, digest, plain, scrub
from orders.ledger.refusal import Refusal

P = ParamSpec("P")
Subject = TypeVar("Subject")

# A tablet whose clock runs ahead is believed for two minutes, and after that this machine's clock counts.
FUTURE_TOLERANCE = timedelta(minutes=2)
# SQLSTATE of PostgreSQL, appendix A of its manual.
UNIQUE_VIOLATION = "23505"
_recording: ContextVar[bool] = ContextVar("recording", default=False)


def action(
    verb: str,
) -> Callable[[Callable[Concatenate[Entry, Subject, P], Answer]], Callable[..., Answer]]:
    """Make an action of `fn(entry, subject, **facts) -> Answer`.

    The action is called `fn(subject, by=, at=None, sender_id=None, raw_code="", **facts)`. It raises Refusal for what
    cannot be done (the refusal is recorded) and returns the first answer when the same `sender_id` comes again.
    """

    def make(fn: Callable[Concatenate[Entry, Subject, P], Answer]) -> Callable[..., Answer]:
        @wraps(fn)
        def act(
            subject: Subject,
            *,
            by: By,
            at: datetime | None = None,
            sender_id: UUID | None = None,
            raw_code: str = "",
            **facts: Any,
        ) -> Answer:
            if _recording.get():
                raise RuntimeError(f"{verb}: an action cannot be part of another one")
            facts = scrub(facts)
            payload = {"subject": plain(subject), **plain(facts)}
            raw_code = clean(raw_code[:60])
            entry_of = _EntryFactory(verb, sender_id or uuid4(), by, at, raw_code, sender_id is not None)
            token = _recording.set(True)
            try:
                work = partial(_call, fn, subject, facts)
                return _record(entry_of, digest(verb, payload), payload, work)
            finally:
                _recording.reset(token)

        return act

    return make


def _call(fn: Callable[..., Answer], subject: Any, facts: dict[str, Any], entry: Entry) -> Answer:
    return fn(entry, subject, **facts)


@dataclass(frozen=True, slots=True)
class _EntryFactory:
    verb: str
    uid: UUID
    by: By
    at: datetime | None
    raw_code: str
    may_repeat: bool

    def __call__(self) -> Entry:
        now = timezone.now()
        at = self.at or now
        if at > now + FUTURE_TOLERANCE:
            at = now
        return Entry(self.verb, self.uid, self.by, at, self.raw_code)


def _record(
    entry_of: _EntryFactory, payload_hash: str, payload: Any, work: Callable[[Entry], Answer]
) -> Answer:
    try:
        with transaction.atomic():
            answer, refusal = (
                _first_answer(entry_of.uid, payload_hash) if entry_of.may_repeat else (None, None)
            )
            if answer is None and refusal is None:
                answer, refusal = _work(entry_of(), payload_hash, payload, work)
    except IntegrityError:
        # The same id arrived twice at once and the other one was first; anything else is a fault of ours.
        answer, refusal = _first_answer(entry_of.uid, payload_hash)
        if answer is None and refusal is None:
            raise
    if refusal is not None:
        raise refusal
    assert answer is not None
    return answer


def _work(
    entry: Entry, payload_hash: str, payload: Any, work: Callable[[Entry], Answer]
) -> tuple[Answer | None, Refusal | None]:
    try:
        with transaction.atomic():
            answer = work(entry)
            answer.uid = entry.uid
            entry.close(answer, payload_hash, payload)
            return answer, None
    except Refusal as refusal:
        refused = refusal
    except IntegrityError as error:
        if not is_unique_violation(error) or Event.objects.filter(uid=entry.uid).exists():
            raise
        refused = Refusal("somebody_was_faster", "Somebody else has just done this. Look again.")
        refused.__cause__ = error
    # What the refused savepoint made does not exist any more.
    entry.run = entry.run if entry.run and Run.objects.filter(pk=entry.run.pk).exists() else None
    entry.animal = (
        entry.animal if entry.animal and Animal.objects.filter(pk=entry.animal.pk).exists() else None
    )
    entry.order = entry.order if entry.order and Order.objects.filter(pk=entry.order.pk).exists() else None
    entry.refuse(refused, payload_hash, payload)
    return None, refused


def is_unique_violation(error: IntegrityError) -> bool:
    """Whether somebody else's row was there first, rather than a rule of ours broken by ourselves."""
    return getattr(error.__cause__, "sqlstate", "") == UNIQUE_VIOLATION or "UNIQUE constraint" in str(error)


def _first_answer(uid: UUID, payload_hash: str) -> tuple[Answer | None, Refusal | None]:
    """What the same id was answered before, if it came before."""
    event = Event.objects.filter(uid=uid).first()
    if event is None:
        return None, None
    if event.payload_hash != payload_hash:
        return None, Refusal(
            "same_id_other_payload", "This was already sent with other values. Look at what is there."
        )
    if event.outcome == Outcome.REFUSED:
        return None, Refusal(event.refusal, event.shown, event.data.get("field", ""))
    return Answer(event.shown, event.data["refs"], uid, repeated=True), None
