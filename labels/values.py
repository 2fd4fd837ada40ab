"""From a JSON-able dictionary to a design's frozen dataclass, with a sentence for what does not fit."""

from __future__ import annotations

import dataclasses
import types
from collections.abc import Mapping
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

T = TypeVar("T")


class LabelError(ValueError):
    """A label that cannot be printed; its text is a sentence for the person."""


def build(values_type: type[T], values: Mapping[str, Any], title: str) -> T:
    """The dataclass `values_type` with `values`; lists become tuples, dictionaries nested dataclasses.

    Raises LabelError naming the first value that is missing, unknown or of the wrong kind.
    """
    if not isinstance(values, Mapping):
        raise LabelError(f"The {title} needs its values by name.")
    fields = {field.name: field for field in dataclasses.fields(values_type)}  # type: ignore[arg-type]
    for name in values:
        if name not in fields:
            raise LabelError(f"The {title} has no place for “{name}”.")
    for name, field in fields.items():
        has_default = (
            field.default is not dataclasses.MISSING or field.default_factory is not dataclasses.MISSING
        )
        if name not in values and not has_default:
            raise LabelError(f"The {title} needs “{name}”.")
    hints = get_type_hints(values_type)
    return values_type(**{name: _convert(hints[name], value, name, title) for name, value in values.items()})


def _convert(hint: Any, value: Any, name: str, title: str) -> Any:
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        if value is None and types.NoneType in get_args(hint):
            return None
        hint = next(kind for kind in get_args(hint) if kind is not types.NoneType)
        return _convert(hint, value, name, title)
    if origin is tuple and isinstance(value, list | tuple):
        return _convert_tuple(get_args(hint), value, name, title)
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        if isinstance(value, hint):
            return value
        return build(hint, value, f"{title} ({name})")
    if isinstance(hint, type) and isinstance(value, hint) and (hint is bool or not isinstance(value, bool)):
        return value
    raise LabelError(f"The {title} cannot print {value!r} as “{name}”.")


def _convert_tuple(kinds: tuple[Any, ...], value: list[Any] | tuple[Any, ...], name: str, title: str) -> Any:
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return tuple(_convert(kinds[0], item, name, title) for item in value)
    if len(kinds) != len(value):
        raise LabelError(f"The {title} needs {len(kinds)} parts in “{name}”, not {len(value)}.")
    return tuple(_convert(kind, item, name, title) for kind, item in zip(kinds, value, strict=True))
