"""Names as they are searched, phone numbers as they are kept and read back."""

from __future__ import annotations

import pytest

from orders.intake.facts import phone_e164, phone_shown, search_form
from orders.ledger.refusal import Refusal


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("406-555-0142", "+14065550142"),
        ("(406) 555 0142", "+14065550142"),
        ("1 406 555 0142", "+14065550142"),
        # ITU-T E.164: at most fifteen digits, country code first; Canada shares +1, Germany is +49.
        ("+1 250 555 0142", "+12505550142"),
        ("+49 30 23125000", "+493023125000"),
        ("", ""),
        ("  ", ""),
    ],
)
def test_phone_numbers_are_kept_in_e164(typed: str, kept: str) -> None:
    assert phone_e164(typed) == kept


@pytest.mark.parametrize("typed", ["12", "call the shop", "406-555-01", "4" * 60, "+999 1", "\0"])
def test_what_is_not_a_phone_number_is_refused(typed: str) -> None:
    with pytest.raises(Refusal) as caught:
        phone_e164(typed)
    assert (caught.value.code, caught.value.field) == ("phone_wrong", "phone")


def test_phone_numbers_are_read_back_as_they_are_said() -> None:
    assert phone_shown("+14065550142") == "(406) 555-0142"
    assert phone_shown("+493023125000") == "+49 30 23125000"
    assert phone_shown("") == ""


@pytest.mark.parametrize(
    ("name", "searched"),
    [
        ("  Åsa   Nightingale ", "asa nightingale"),
        ("Nguyễn Văn An", "nguyen van an"),
        ("Пётр", "Пётр".lower()),
        ("N" * 100, "n" * 80),
    ],
)
def test_names_are_searched_without_case_and_accents(name: str, searched: str) -> None:
    assert search_form(name) == searched
