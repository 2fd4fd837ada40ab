"""An action's arguments as plain values, and their fingerprint."""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields, is_dataclass, replace
from typing import Any

from django.db.models import Model


def plain(value: Any) -> Any:
    """JSON-able values: a model becomes its key, a dataclass a dictionary, dates ISO text."""
    if isinstance(value, Model):
        return f"{value._meta.model_name}:{value.pk}"
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, dict):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    if isinstance(value, set | frozenset):
        # In one order, so that the same set has the same fingerprint in every process.
        return sorted((plain(each) for each in value), key=str)
    if isinstance(value, str):
        return clean(value)
    if value is None or isinstance(value, int | bool):
        return value
    return clean(str(value))


def clean(text: str) -> str:
    """Text that every database keeps: without NUL, and half characters replaced; the same object where it is clean."""
    if "\x00" in text:
        text = text.replace("\x00", "")
    try:
        text.encode()
    except UnicodeEncodeError:
        return text.encode("utf-8", "replace").decode()
    return text


def scrub(value: Any) -> Any:
    """An action's argument with all its text clean; what holds no text, or only clean text, comes back as it is."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, dict):
        return {key: scrub(each) for key, each in value.items()}
    if type(value) in (list, tuple):
        return type(value)(scrub(each) for each in value)
    if is_dataclass(value) and not isinstance(value, type):
        pairs = ((f.name, getattr(value, f.name)) for f in fields(value))
        changed = {name: new for name, old in pairs if (new := scrub(old)) is not old and new != old}
        return replace(value, **changed) if changed else value
    return value


def digest(verb: str, payload: Any) -> str:
    """SHA-256 of the verb and the plain payload, so that the same id with another payload is noticed."""
    text = json.dumps([verb, payload], sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
