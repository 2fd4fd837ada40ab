"""The one code scheme: ten digits, the first for the kind, eight serial, the last a GS1 mod-10 check digit.

Check digit: GS1 General Specifications 7.9.1: weights 3, 1, 3, ... from the right, to the next ten.
"""

from __future__ import annotations

from enum import StrEnum

LENGTH = 10
MAX_SERIAL = 99_999_999


class Kind(StrEnum):
    """The first digit of a code, which says what the code stands on."""

    ORDER = "1"
    PIECE = "2"
    LUG = "3"
    PACKAGE = "4"
    BOX = "5"
    PLACE = "6"
    STATION = "7"
    RUN = "8"


KIND_WORDS = {
    Kind.ORDER: "order",
    Kind.PIECE: "piece",
    Kind.LUG: "lug",
    Kind.PACKAGE: "package",
    Kind.BOX: "box",
    Kind.PLACE: "place",
    Kind.STATION: "station",
    Kind.RUN: "run",
}


class CodeError(ValueError):
    """A code that cannot be one of ours; `reason` is stable, the text is a sentence for the person."""

    def __init__(self, reason: str, sentence: str) -> None:
        super().__init__(sentence)
        self.reason = reason


def check_digit(digits: str) -> int:
    """GS1 mod-10 check digit of `digits` (any length, without the check digit itself)."""
    if not (digits.isascii() and digits.isdigit()):
        raise CodeError("not_digits", "A code has digits only.")
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits)))
    return -total % 10


def make_code(kind: Kind, serial: int) -> str:
    """The ten digits for the `serial`-th thing of a kind. Raises CodeError beyond eight digits."""
    if not 1 <= serial <= MAX_SERIAL:
        raise CodeError("serial_range", "There are no numbers left for this kind of code.")
    body = f"{kind.value}{serial:08d}"
    return f"{body}{check_digit(body)}"


def read_code(raw: str) -> tuple[Kind, str]:
    """Check a scanned or typed code and return its kind and its ten digits; spaces and hyphens are ignored.

    Raises CodeError with reason `not_digits`, `length`, `check` or `kind`.
    """
    code = "".join(raw.split()).replace("-", "")
    if not (code.isascii() and code.isdigit()):
        raise CodeError("not_digits", f"“{raw.strip()}” is not one of our codes: they have ten digits.")
    if len(code) != LENGTH:
        raise CodeError("length", f"Our codes have ten digits; this one has {len(code)}.")
    if check_digit(code[:-1]) != int(code[-1]):
        raise CodeError("check", "One digit of this code is wrong. Read it again from the label.")
    if code[0] not in {kind.value for kind in Kind}:
        raise CodeError("kind", "No code of ours begins with this digit.")
    return Kind(code[0]), code


def spaced(code: str) -> str:
    """A code as printed in large digits: `2 0000 0042 5`."""
    return f"{code[0]} {code[1:5]} {code[5:9]} {code[9:]}"
