"""What a view asks of its request."""

import pytest
from django.http import HttpResponse
from django.test import RequestFactory
from django_htmx.middleware import HtmxMiddleware

from keeper.pages.frame.requests import wants_part


@pytest.mark.parametrize(
    ("headers", "wanted"),
    [
        ({}, False),
        ({"HX-Request": "true"}, True),
        ({"HX-Request": "true", "HX-History-Restore-Request": "true"}, False),
    ],
    ids=["plain", "htmx", "going back"],
)
def test_wants_part_is_said_by_htmx_unless_it_goes_back(
    headers: dict[str, str], wanted: bool
) -> None:
    request = RequestFactory().get("/", headers=headers)
    assert wants_part(request) is False
    HtmxMiddleware(lambda _: HttpResponse())(request)
    assert wants_part(request) is wanted
