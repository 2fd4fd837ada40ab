"""Who gets in, with which role, and what each role may open."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from datetime import timedelta
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.test import Client, override_settings
from django.urls import get_resolver, include, path
from django.utils import timezone

from shop import devices, signin
from shop.access import DEVICE_COOKIE, MAX_TRIES, PUBLIC, roles
from shop.models import Device, LoginTry, Person, Role

PIN = "4172"
BADGE = {"olive": "100200300401", "kit": "100200300402"}


@pytest.fixture
def crew(people: Any) -> Any:
    """The three people; the owner and the cutter with PIN and badge."""
    for person in (people.owner, people.cutter):
        person.pin = signin.hashed_pin(PIN)
        person.badge = BADGE[person.username]
        person.save()
    return people


@pytest.fixture
def tablet(stations: Any) -> Callable[[], Client]:
    """`tablet()`: a browser on a device newly enrolled at the block."""

    def enrolled() -> Client:
        _, token = devices.enroll(f"Tablet {uuid4()}"[:40], stations.block, sender_id=uuid4())
        client = Client()
        client.cookies[DEVICE_COOKIE] = token
        return client

    return enrolled


def log_in(client: Client, username: str, password: str = "lantern-test", **more: str) -> Any:
    return client.post("/login/", {"username": username, "password": password, **more})


def role_at(client: Client) -> str:
    """The role that the next page is served with."""
    return str(client.get("/no-such-page/").context["role"])


# --- each address and each role -------------------------------------------------------------------------------

MATRIX = [
    # method, address, anonymous, floor, counter, owner
    ("get", "/login/", 200, 200, 200, 200),
    ("post", "/logout/", 302, 302, 302, 302),
    ("get", "/logout/", 405, 405, 405, 405),
    ("get", "/who/", 302, 302, 302, 302),
    ("post", "/who/", 403, 403, 403, 403),
    ("get", "/health/", 200, 200, 200, 200),
    ("get", "/devices/", 302, 403, 403, 200),
    ("post", "/devices/", 302, 403, 403, 200),
    ("post", "/devices/{device}/revoke/", 302, 403, 403, 302),
    ("get", "/devices/{device}/revoke/", 302, 403, 403, 405),
    ("get", "/people/", 302, 403, 403, 200),
    ("post", "/people/", 302, 403, 403, 200),
    ("get", "/people/{person}/", 302, 403, 403, 200),
    ("post", "/people/{person}/", 302, 403, 403, 200),
    ("post", "/people/{person}/active/", 302, 403, 403, 302),
    ("post", "/people/{person}/badge/", 302, 403, 403, 302),
]


@pytest.mark.parametrize(("method", "address", "anonymous", "floor", "counter", "owner"), MATRIX)
def test_each_address_serves_the_roles_it_declares(
    crew: Any,
    stations: Any,
    method: str,
    address: str,
    anonymous: int,
    floor: int,
    counter: int,
    owner: int,
) -> None:
    device, _ = devices.enroll("Cooler tablet", stations.cooler, sender_id=uuid4())
    url = address.format(device=device.pk, person=crew.cutter.pk)
    expected = {None: anonymous, crew.cutter: floor, crew.clerk: counter, crew.owner: owner}
    for person, status in expected.items():
        client = Client()
        if person:
            client.force_login(person)
        response = getattr(client, method)(url)
        assert response.status_code == status, (person, url)
        if person is None and status == 302 and not address.startswith("/logout"):
            assert response.url.startswith("/login/")


def all_views(patterns: Any = None, prefix: str = "") -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = []
    for entry in get_resolver().url_patterns if patterns is None else patterns:
        here = f"{prefix}{entry.pattern}"
        inner = getattr(entry, "url_patterns", None)
        found += all_views(inner, here) if inner is not None else [(here, entry.callback)]
    return found


def test_every_view_of_the_house_declares_its_roles() -> None:
    views = all_views()
    assert {"login/", "who/", "devices/", "people/", "health/"} <= {where for where, _ in views}
    assert [where for where, view in views if not hasattr(view, "roles")] == []


def test_nothing_is_open_to_strangers_but_the_doors() -> None:
    open_views = {where for where, view in all_views() if view.roles == PUBLIC}
    assert open_views == {"login/", "logout/", "who/", "health/"}


def _undeclared(request: HttpRequest) -> HttpResponse:
    return HttpResponse("never shown")


@roles("counter", "owner")
def _declared(request: HttpRequest) -> HttpResponse:
    return HttpResponse("shown")


urlpatterns = [
    path("undeclared/", _undeclared),
    path("declared/", _declared),
    path("", include("shop.urls")),
]


@override_settings(ROOT_URLCONF=__name__)
def test_a_view_without_roles_is_refused_even_to_the_owner(
    client: Client, people: Any, caplog: pytest.LogCaptureFixture
) -> None:
    client.force_login(people.owner)
    with caplog.at_level(logging.ERROR, "gambrel.access"):
        response = client.get("/undeclared/")
    assert response.status_code == 403
    assert b"never shown" not in response.content
    assert "/undeclared/ declares no roles" in caplog.text
    assert client.get("/declared/").content == b"shown"


@override_settings(ROOT_URLCONF=__name__)
def test_a_stranger_is_sent_to_the_password_page_and_comes_back(client: Client, people: Any) -> None:
    response = client.get("/declared/?week=3")
    assert (response.status_code, response.url) == (302, "/login/?next=/declared/%3Fweek%3D3")
    assert log_in(client, "clem", next="/declared/?week=3").url == "/declared/?week=3"


@override_settings(ROOT_URLCONF=__name__)
def test_a_role_is_not_sent_back_to_a_page_it_cannot_open(client: Client, people: Any) -> None:
    assert log_in(client, "kit", next="/declared/").url != "/declared/"


@pytest.mark.parametrize(
    "elsewhere",
    ["https://example.org/people/", "//example.org/people/", "/\\example.org/people/", "javascript:/people/"],
)
def test_nobody_is_sent_to_another_site(client: Client, people: Any, elsewhere: str) -> None:
    # The path is a page of ours that the owner may open, so only the address's beginning can give it away.
    response = log_in(client, "olive", next=elsewhere)
    assert response.status_code == 302
    assert response.url == "/"
    assert log_in(client, "olive", next="/people/").url == "/people/"


def test_scripts_are_told_to_log_in_in_their_own_way(client: Client, db: None) -> None:
    fragment = client.get("/people/", headers={"HX-Request": "true"})
    assert (fragment.status_code, fragment.headers["HX-Redirect"], fragment.content) == (204, "/login/", b"")
    answer = client.post("/people/", headers={"Accept": "application/json"})
    assert (answer.status_code, json.loads(answer.content)) == (401, {"login": "/login/"})


def test_roles_must_be_roles() -> None:
    with pytest.raises(ValueError, match="cook"):
        roles("owner", "cook")
    with pytest.raises(ValueError, match="none"):
        roles()


# --- password ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("username", "role"), [("olive", "owner"), ("clem", "counter"), ("kit", "floor")])
def test_a_password_opens_ones_own_role(client: Client, people: Any, username: str, role: str) -> None:
    assert log_in(client, username).status_code == 302
    assert role_at(client) == role


def test_a_wrong_password_keeps_the_name_and_says_why_beside_the_field(client: Client, people: Any) -> None:
    page = log_in(client, "clem", "lantern").content.decode()
    assert 'value="clem"' in page
    assert (
        '<p class="error" id="id_password_error">This username and password do not go together.</p>' in page
    )
    assert 'aria-describedby="id_password_error"' in page
    assert "lantern-test" not in page
    assert role_at(client) == ""


def test_an_unknown_name_gets_the_same_sentence(client: Client, people: Any) -> None:
    assert "do not go together" in log_in(client, "nobody").content.decode()


def test_after_eight_failures_the_right_password_has_to_wait(client: Client, people: Any) -> None:
    for _ in range(MAX_TRIES):
        assert "do not go together" in log_in(client, "clem", "wrong").content.decode()
    assert "Wait ten minutes" in log_in(client, "clem").content.decode()
    assert role_at(client) == ""
    LoginTry.objects.update(at=timezone.now() - timedelta(minutes=10, seconds=1))
    assert log_in(client, "clem").status_code == 302
    assert role_at(client) == "counter"


def test_failures_count_by_account_not_by_address(client: Client, people: Any) -> None:
    for _ in range(MAX_TRIES + 1):
        log_in(client, "clem", "wrong")
    # The same address, another account: the whole shop sits behind one router.
    assert log_in(client, "olive").status_code == 302
    # Another address, the same account: no way round.
    other = Client(REMOTE_ADDR="192.0.2.77")
    assert "Wait ten minutes" in log_in(other, "clem").content.decode()


def test_a_stranger_s_tries_do_not_shut_a_clerk_out_at_the_shop_s_own_device(
    client: Client, people: Any, tablet: Any
) -> None:
    for _ in range(MAX_TRIES + 1):
        log_in(client, "clem", "wrong")
    assert log_in(tablet(), "clem").status_code == 302


def test_spelling_a_name_differently_gives_no_more_tries(client: Client, people: Any) -> None:
    for name in ["clem", "CLEM", " clem ", "Clem"] * 2:
        log_in(client, name, "wrong")
    assert "Wait ten minutes" in log_in(client, "clem").content.decode()


def test_success_forgets_the_failures(client: Client, people: Any) -> None:
    for _ in range(MAX_TRIES - 1):
        log_in(client, "clem", "wrong")
    log_in(client, "clem")
    assert LoginTry.objects.count() == 0


def test_somebody_shut_out_is_out_at_once(client: Client, people: Any) -> None:
    log_in(client, "clem")
    assert role_at(client) == "counter"
    Person.objects.filter(username="clem").update(is_active=False)
    assert role_at(client) == ""
    assert "do not go together" in log_in(client, "clem").content.decode()


def test_a_changed_role_counts_from_the_next_page(client: Client, people: Any) -> None:
    client.force_login(people.owner)
    Person.objects.filter(pk=people.owner.pk).update(role=Role.COUNTER)
    assert client.get("/people/").status_code == 403


# --- PIN and badge ------------------------------------------------------------------------------------------------


def test_an_enrolled_device_asks_who_is_here(crew: Any, tablet: Any) -> None:
    response = tablet().get("/people/")
    assert response.url == "/who/?next=/people/"
    page = tablet().get("/who/").content.decode()
    assert "Kit Barlow" in page
    assert "Olive Marrow" in page
    assert "Clem Tansy" not in page, "no PIN, no tile"


def test_tile_and_pin_are_one_step(crew: Any, tablet: Any) -> None:
    client = tablet()
    response = client.post("/who/", {"person": crew.cutter.pk, "pin": PIN})
    assert response.status_code == 302
    page = client.get("/no-such-page/")
    assert (page.context["role"], page.context["person"], page.context["station"].name) == (
        "floor",
        crew.cutter,
        "Block 1",
    )


@pytest.mark.parametrize(
    "fields", [{"badge": BADGE["olive"]}, {"pin": BADGE["olive"]}, {"pin": PIN, "person": "owner"}]
)
def test_badge_and_pin_open_the_floor_only_even_to_an_owner(
    crew: Any, tablet: Any, fields: dict[str, str]
) -> None:
    client = tablet()
    sent = {**fields, "person": crew.owner.pk} if "person" in fields else fields
    assert client.post("/who/", sent).status_code == 302
    page = client.get("/people/")
    assert (page.status_code, page.context["role"], page.context["person"]) == (403, "floor", crew.owner)
    assert log_in(client, "olive").status_code == 302
    assert client.get("/people/").status_code == 200, "the password gives the owner's role back"
    client.post("/who/", {"badge": BADGE["olive"]})
    assert client.get("/people/").status_code == 403, "and the badge takes it away again"


@pytest.mark.parametrize("cookie", ["", "made-up-token"])
def test_pin_and_badge_do_nothing_on_a_device_that_is_not_enrolled(crew: Any, cookie: str) -> None:
    client = Client()
    if cookie:
        client.cookies[DEVICE_COOKIE] = cookie
    for fields in ({"person": crew.cutter.pk, "pin": PIN}, {"badge": BADGE["kit"]}):
        response = client.post("/who/", fields)
        assert response.status_code == 403
        assert "only on the shop&#x27;s enrolled devices" in response.content.decode()
    assert role_at(client) == ""


def test_handing_over_replaces_who_was_there(crew: Any, tablet: Any) -> None:
    client = tablet()
    log_in(client, "olive")
    client.post("/who/", {"badge": BADGE["kit"]})
    page = client.get("/no-such-page/")
    assert (page.context["person"], page.context["role"]) == (crew.cutter, "floor")


def test_a_wrong_pin_says_so_and_keeps_the_tile(crew: Any, tablet: Any) -> None:
    page = tablet().post("/who/", {"person": crew.cutter.pk, "pin": "9999"}).content.decode()
    assert "This is not the PIN of the person you chose." in page
    assert f'value="{crew.cutter.pk}" checked' in page
    assert "9999" not in page


@pytest.mark.parametrize("person", ["", "0", "x", "99999999"])
def test_a_pin_without_a_name_opens_nothing(crew: Any, tablet: Any, person: str) -> None:
    client = tablet()
    page = client.post("/who/", {"person": person, "pin": PIN}).content.decode()
    assert "Choose your name first." in page
    assert role_at(client) == ""


def test_an_empty_pin_does_not_match_a_person_without_one(crew: Any, tablet: Any) -> None:
    client = tablet()
    client.post("/who/", {"person": crew.clerk.pk, "pin": ""})
    assert role_at(client) == ""


def test_pins_are_throttled_by_person(crew: Any, tablet: Any) -> None:
    client = tablet()
    for _ in range(MAX_TRIES):
        client.post("/who/", {"person": crew.cutter.pk, "pin": "0007"})
    page = client.post("/who/", {"person": crew.cutter.pk, "pin": PIN}).content.decode()
    assert "Wait ten minutes" in page
    assert client.post("/who/", {"person": crew.owner.pk, "pin": PIN}).status_code == 302


def test_unknown_badges_are_throttled_but_not_after_eight(crew: Any, tablet: Any) -> None:
    client = tablet()
    for n in range(signin.MAX_BADGE_TRIES):
        page = client.post("/who/", {"badge": f"{n:012d}"}).content.decode()
        assert "This badge is not known here." in page
    assert "Too many unknown badges" in client.post("/who/", {"badge": BADGE["kit"]}).content.decode()
    assert client.post("/who/", {"person": crew.cutter.pk, "pin": PIN}).status_code == 302


def test_the_badge_of_somebody_shut_out_opens_nothing(crew: Any, tablet: Any) -> None:
    Person.objects.filter(pk=crew.cutter.pk).update(is_active=False)
    client = tablet()
    assert "This badge is not known here." in client.post("/who/", {"badge": BADGE["kit"]}).content.decode()
    page = client.post("/who/", {"person": crew.cutter.pk, "pin": PIN}).content.decode()
    assert "Choose your name first." in page
    assert role_at(client) == ""


def test_a_revoked_device_ends_what_was_begun_there(crew: Any, tablet: Any) -> None:
    client = tablet()
    client.post("/who/", {"badge": BADGE["kit"]})
    assert role_at(client) == "floor"
    devices.revoke(Device.objects.get())
    assert role_at(client) == ""
    assert client.post("/who/", {"badge": BADGE["kit"]}).status_code == 403


def test_a_session_by_badge_does_not_move_to_another_device(crew: Any, tablet: Any) -> None:
    first, second = tablet(), tablet()
    first.post("/who/", {"badge": BADGE["kit"]})
    second.cookies["sessionid"] = first.cookies["sessionid"].value
    assert role_at(second) == ""


def test_logging_out_asks_who_is_next(crew: Any, tablet: Any, client: Client) -> None:
    at_the_block = tablet()
    at_the_block.post("/who/", {"badge": BADGE["kit"]})
    assert at_the_block.post("/logout/").url == "/who/"
    assert role_at(at_the_block) == ""
    client.force_login(crew.clerk)
    assert client.post("/logout/").url == "/login/"


def test_coming_in_and_handing_over_need_the_page_s_own_form(crew: Any, stations: Any) -> None:
    _, token = devices.enroll("Cooler tablet", stations.cooler, sender_id=uuid4())
    client = Client(enforce_csrf_checks=True)
    client.cookies[DEVICE_COOKIE] = token
    response = client.post("/who/", {"badge": BADGE["kit"]})
    assert response.status_code == 403
    assert "Nothing was saved: please send it once more" in response.content.decode()
    assert role_at(client) == ""


def test_the_device_s_cookie_is_out_of_reach_of_scripts(crew: Any, tablet: Any) -> None:
    cookie = tablet().post("/who/", {"badge": BADGE["kit"]}).cookies[DEVICE_COOKIE]
    assert cookie["httponly"] is True
    assert cookie["samesite"] == "Lax"
    assert cookie["max-age"] == 400 * 24 * 3600


# --- health, and a page without a database -----------------------------------------------------------------------


def test_health_is_thin(client: Client, db: None, django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(1):
        response = client.get("/health/")
    assert json.loads(response.content) == {"status": "ok", "database": "ok"}


def test_health_says_when_the_database_does_not_answer(
    client: Client, db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone() -> Any:
        raise DatabaseError("gone")

    monkeypatch.setattr("shop.views.connection", SimpleNamespace(cursor=gone))
    response = client.get("/health/")
    assert response.status_code == 503
    assert json.loads(response.content) == {"status": "failing", "database": "does not answer"}


def test_a_page_for_the_floor_reads_who_and_where_in_four_queries(
    crew: Any, tablet: Any, django_assert_num_queries: Any
) -> None:
    client = tablet()
    client.post("/who/", {"badge": BADGE["kit"]})
    # device with station, session, person, the shop
    with django_assert_num_queries(4):
        client.get("/no-such-page/")


def test_the_real_hasher_is_argon2() -> None:
    from shop import settings as shipped

    assert shipped.PASSWORD_HASHERS[0] == "django.contrib.auth.hashers.Argon2PasswordHasher"
