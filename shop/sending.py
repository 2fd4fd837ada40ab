"""Forms that a page sends itself (shop/static/shop/send.js): it is told where to go, rather than being redirected."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase, HttpResponseRedirectBase

SENT_BY = "X-Sent-By"
GOES_TO = "X-Goes-To"


class SendingMiddleware:
    """Answers a form that its page has sent with 204 and the address to go to, instead of a redirect.

    A redirect would be followed unseen by the page's script, and the banner of what was done be spent on it.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if isinstance(response, HttpResponseRedirectBase) and request.headers.get(SENT_BY) == "page":
            response[GOES_TO] = response["Location"]
            del response["Location"]
            response.status_code = 204
        return response
