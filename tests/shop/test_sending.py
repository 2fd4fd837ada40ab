"""A form that its page sends is told where to go; one that the browser sends is redirected."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.test import Client, RequestFactory
from django.urls import reverse

from shop.sending import SendingMiddleware

BY_PAGE = {"X-Sent-By": "page"}


def answered(response: HttpResponse, **headers: str) -> Any:
    request: HttpRequest = RequestFactory().post("/", headers=headers)
    return SendingMiddleware(lambda _: response)(request)


def test_a_redirect_becomes_an_address_with_its_cookies() -> None:
    response = HttpResponseRedirect("/orders/26-0001/#tag")
    response.set_cookie("messages", "kept")
    found = answered(response, **BY_PAGE)
    assert (found.status_code, found["X-Goes-To"]) == (204, "/orders/26-0001/#tag")
    assert "Location" not in found
    assert found.cookies["messages"].value == "kept"


def test_the_browser_is_redirected_as_ever() -> None:
    found = answered(HttpResponseRedirect("/orders/"))
    assert (found.status_code, found["Location"]) == (302, "/orders/")
    assert "X-Goes-To" not in found


def test_a_page_is_a_page() -> None:
    found = answered(HttpResponse("refused", status=422), **BY_PAGE)
    assert (found.status_code, found.content) == (422, b"refused")


def test_logging_in_from_the_page(client: Client, people: Any, catalog: None) -> None:
    door = reverse("login")
    wrong = client.post(door, {"username": "clem", "password": "no"}, headers=BY_PAGE)
    assert wrong.status_code in (200, 422)
    right = client.post(door, {"username": "clem", "password": "lantern-test"}, headers=BY_PAGE)
    assert (right.status_code, right["X-Goes-To"]) == (204, "/")
    assert client.get("/").status_code == 200


def test_a_stranger_is_sent_to_the_door(client: Client, catalog: None) -> None:
    answer = client.post(reverse("order-new"), headers=BY_PAGE)
    assert (answer.status_code, answer["X-Goes-To"]) == (204, "/login/")
