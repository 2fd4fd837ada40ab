"""What the owner does about devices and people."""

from __future__ import annotations

import hashlib
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.test import Client
from django.utils import timezone

from shop import devices
from shop import people as people_actions
from shop.access import DEVICE_COOKIE, find_device
from shop.models import Device, Person, Role

SENDER = UUID("6f1a52f0-33f7-4a92-9d3c-0c6a6a0b9a11")


@pytest.fixture
def owner(client: Client, people: Any) -> Client:
    client.force_login(people.owner)
    return client


# --- devices ------------------------------------------------------------------------------------------------------


def test_enrolling_makes_this_browser_a_device(owner: Client, stations: Any) -> None:
    response = owner.post(
        "/devices/",
        {"name": "Cooler tablet", "station": stations.cooler.pk, "sender_id": str(SENDER)},
        follow=True,
    )
    device = Device.objects.get()
    assert (device.name, device.station, device.revoked_at) == ("Cooler tablet", stations.cooler, None)
    assert response.context["device"] == device
    assert "Cooler tablet is enrolled at Cooler door." in response.content.decode()


def test_the_token_is_kept_only_as_a_hash_and_only_in_the_cookie(owner: Client, stations: Any) -> None:
    response = owner.post("/devices/", {"name": "Cooler tablet", "station": stations.cooler.pk})
    token = response.cookies[DEVICE_COOKIE].value
    stored = Device.objects.values().get()
    assert stored["token_hash"] == hashlib.sha256(token.encode()).hexdigest()
    assert token not in str(stored)
    assert len(token) == 64


def test_the_same_form_sent_twice_enrolls_one_device(owner: Client, stations: Any) -> None:
    form = {"name": "Cooler tablet", "station": stations.cooler.pk, "sender_id": str(SENDER)}
    first, second = Client(), Client()
    for browser in (first, second):
        browser.cookies["sessionid"] = owner.cookies["sessionid"].value
    tokens = {browser.post("/devices/", form).cookies[DEVICE_COOKIE].value for browser in (first, second)}
    assert len(tokens) == 1
    assert Device.objects.count() == 1


def test_the_same_form_with_other_values_is_refused(stations: Any) -> None:
    devices.enroll("Cooler tablet", stations.cooler, sender_id=SENDER)
    with pytest.raises(devices.DeviceRefused, match="was sent before"):
        devices.enroll("Cooler tablet", stations.block, sender_id=SENDER)


def test_the_form_of_a_device_shut_out_does_not_let_it_in_again(stations: Any) -> None:
    device, _ = devices.enroll("Cooler tablet", stations.cooler, sender_id=SENDER)
    devices.revoke(device)
    with pytest.raises(devices.DeviceRefused, match="was sent before"):
        devices.enroll("Cooler tablet", stations.cooler, sender_id=SENDER)


def test_another_form_gives_another_token(stations: Any) -> None:
    _, first = devices.enroll("Cooler tablet", stations.cooler, sender_id=uuid4())
    _, second = devices.enroll("Block tablet", stations.block, sender_id=uuid4())
    assert first != second


def test_two_devices_do_not_share_a_name_and_what_was_typed_stays(owner: Client, stations: Any) -> None:
    devices.enroll("Cooler tablet", stations.cooler, sender_id=uuid4())
    page = owner.post("/devices/", {"name": "cooler TABLET", "station": stations.block.pk}).content.decode()
    assert 'id="id_name_error">There is already a device called “cooler TABLET”' in page
    assert 'value="cooler TABLET"' in page
    assert f'<option value="{stations.block.pk}" selected>' in page
    assert Device.objects.count() == 1


def test_enrolling_a_device_anew_moves_it(owner: Client, stations: Any) -> None:
    owner.post("/devices/", {"name": "Cooler tablet", "station": stations.cooler.pk})
    page = owner.post("/devices/", {"name": "Cooler tablet", "station": stations.block.pk}, follow=True)
    assert page.context["station"] == stations.block
    first, second = Device.objects.order_by("id")
    assert first.revoked_at is not None
    assert second.revoked_at is None


def test_an_empty_form_says_what_is_missing(owner: Client, stations: Any) -> None:
    page = owner.post("/devices/", {}).content.decode()
    assert "Give the device a name that people recognize." in page
    assert "Choose the station it stands at." in page
    assert page.count('aria-invalid="true"') == 2


def test_shutting_out_works_once_and_says_so_the_second_time(owner: Client, stations: Any) -> None:
    device, token = devices.enroll("Cooler tablet", stations.cooler, sender_id=uuid4())
    assert find_device(token) == device
    first = owner.post(f"/devices/{device.pk}/revoke/", follow=True).content.decode()
    revoked_at = Device.objects.get().revoked_at
    second = owner.post(f"/devices/{device.pk}/revoke/", follow=True).content.decode()
    assert "Cooler tablet is shut out." in first
    assert "Cooler tablet was shut out before." in second
    assert Device.objects.get().revoked_at == revoked_at
    assert revoked_at is not None
    assert revoked_at <= timezone.now()
    assert find_device(token) is None


@pytest.mark.parametrize("rows", [1, 3])
def test_the_list_of_devices_takes_the_same_queries_for_any_length(
    owner: Client, stations: Any, rows: int, django_assert_num_queries: Any
) -> None:
    for n in range(rows):
        devices.enroll(f"Tablet {n}", stations.block, sender_id=uuid4())
    # session, person, the shop, devices with stations, stations to choose from
    with django_assert_num_queries(5):
        page = owner.get("/devices/").content.decode()
    assert page.count('class="danger"') == rows


# --- people -------------------------------------------------------------------------------------------------------

NEW = {
    "first_name": "Wren",
    "last_name": "Aldous",
    "username": "wren",
    "role": "floor",
    "language": "es",
    "password": "",
    "pin": "4172",
    "sender_id": str(SENDER),
}


def test_adding_a_person_gives_them_a_badge_and_a_pin(owner: Client) -> None:
    page = owner.post("/people/", NEW, follow=True)
    wren = Person.objects.get(username="wren")
    assert "Wren Aldous is added." in page.content.decode()
    assert (wren.role, wren.language, wren.has_usable_password()) == ("floor", "es", False)
    assert wren.badge is not None
    assert (len(wren.badge), wren.badge.isdigit()) == (12, True)
    assert wren.pin != "4172"
    assert f"{wren.badge[:4]} {wren.badge[4:8]} {wren.badge[8:]}" in page.content.decode()


def test_the_same_form_sent_twice_adds_one_person(owner: Client) -> None:
    first = owner.post("/people/", NEW)
    second = owner.post("/people/", NEW)
    assert first.url == second.url
    assert Person.objects.filter(username="wren").count() == 1
    assert "Wren Aldous was added before." in owner.get(second.url).content.decode()


@pytest.mark.parametrize(
    ("change", "field", "sentence"),
    [
        ({"first_name": " "}, "first_name", "Type the name others call them by."),
        ({"username": "Wren A"}, "username", "Use small letters, digits, dots, hyphens."),
        ({"username": "clem"}, "username", "Somebody already has this username."),
        ({"role": "counter"}, "password", "Owner and counter log in with a password. Give one."),
        ({"role": "cook"}, "role", "Select a valid choice."),
        ({"password": "short"}, "password", "at least 8 characters"),
        ({"pin": "417"}, "pin", "A PIN has four to eight digits."),
        ({"pin": "41٧2"}, "pin", "A PIN has four to eight digits."),
        ({"pin": "1111"}, "pin", "the first that anybody would try"),
        ({"pin": "2345"}, "pin", "the first that anybody would try"),
        ({"pin": "8765"}, "pin", "the first that anybody would try"),
    ],
)
def test_what_is_wrong_stands_beside_its_field(
    owner: Client, change: dict[str, str], field: str, sentence: str
) -> None:
    response = owner.post("/people/", {**NEW, **change})
    page = response.content.decode()
    error = page.split(f'id="id_{field}_error">')[1].split("</p>")[0]
    assert sentence in error
    assert f'value="{NEW["last_name"]}"' in page, "what was typed stays"
    assert not Person.objects.filter(first_name="Wren").exists()


def test_changing_a_person_keeps_password_and_pin_left_empty(owner: Client, people: Any) -> None:
    people_actions.change(people.cutter, people_actions.Facts("kit", "Kit", "Barlow", "floor", pin="4172"))
    before = Person.objects.get(pk=people.cutter.pk)
    owner.post(
        f"/people/{before.pk}/",
        {"first_name": "Kit", "last_name": "Hallam", "username": "kit", "role": "counter", "language": "en"},
    )
    after = Person.objects.get(pk=before.pk)
    assert (after.last_name, after.role) == ("Hallam", "counter")
    assert (after.password, after.pin) == (before.password, before.pin)


def test_an_owner_who_changes_their_own_password_stays_in(owner: Client, people: Any) -> None:
    facts = {
        "first_name": "Olive",
        "last_name": "Marrow",
        "username": "olive",
        "role": "owner",
        "language": "en",
    }
    owner.post(f"/people/{people.owner.pk}/", {**facts, "password": "rust-and-bone-9"})
    assert owner.get("/people/").status_code == 200
    assert Person.objects.get(pk=people.owner.pk).check_password("rust-and-bone-9")


def test_the_last_owner_stays_an_owner(owner: Client, people: Any) -> None:
    facts = {
        "first_name": "Olive",
        "last_name": "Marrow",
        "username": "olive",
        "role": "floor",
        "language": "en",
    }
    page = owner.post(f"/people/{people.owner.pk}/", facts).content.decode()
    assert "The shop needs at least one owner who can log in." in page
    assert Person.objects.get(pk=people.owner.pk).role == Role.OWNER


def test_owners_cannot_shut_out_themselves_nor_the_last_one(owner: Client, people: Any) -> None:
    page = owner.post(f"/people/{people.owner.pk}/active/", {"active": "no"}, follow=True).content.decode()
    assert "You cannot shut yourself out." in page
    with pytest.raises(people_actions.PersonRefused, match="at least one owner"):
        people_actions.set_active(people.owner, False, by=people.clerk)
    assert Person.objects.get(pk=people.owner.pk).is_active


def test_shutting_out_and_letting_in_again(owner: Client, people: Any) -> None:
    where = f"/people/{people.cutter.pk}/active/"
    assert "cannot come in any more" in owner.post(where, {"active": "no"}, follow=True).content.decode()
    assert not Person.objects.get(pk=people.cutter.pk).is_active
    assert people_actions.set_active(people.cutter, False, by=people.owner) is False
    owner.post(where, {"active": "yes"})
    assert Person.objects.get(pk=people.cutter.pk).is_active


def test_a_new_badge_replaces_the_old_one(owner: Client, people: Any) -> None:
    old = people_actions.new_badge(people.cutter)
    owner.post(f"/people/{people.cutter.pk}/badge/")
    new = Person.objects.get(pk=people.cutter.pk).badge
    assert new is not None
    assert new != old
    assert not Person.objects.filter(badge=old).exists()


@pytest.mark.parametrize("more", [1, 3])
def test_the_list_of_people_takes_the_same_queries_for_any_length(
    owner: Client, more: int, django_assert_num_queries: Any
) -> None:
    for n in range(more):
        facts = people_actions.Facts(f"hand{n}", f"Hand{n}", "", "floor", pin="4172")
        people_actions.add(facts, sender_id=uuid4())
    # session, person, the shop, people
    with django_assert_num_queries(4):
        page = owner.get("/people/").content.decode()
    assert page.count('<th scope="row">') == 3 + more
