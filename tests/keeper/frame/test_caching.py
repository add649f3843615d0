"""No browser and no proxy keeps a page, a file or an answer of the book."""

import pytest
from django.test import Client

from keeper import models as m
from keeper.pages.frame.once import KEPT

PRIVATE = "private, no-store"


@pytest.mark.django_db
@pytest.mark.parametrize(
    "address", ["/", "/animals/", "/animals/export.csv", "/register/", "/nowhere/"]
)
def test_nothing_is_kept(owner_client: Client, address: str) -> None:
    assert owner_client.get(address)["Cache-Control"] == PRIVATE


@pytest.mark.django_db
def test_the_log_in_page_is_not_kept_either(client: Client, owner: m.Account) -> None:
    assert "no-store" in client.get("/log-in/")["Cache-Control"]
    assert client.get("/")["Cache-Control"] == PRIVATE


@pytest.mark.django_db
def test_the_browser_is_told_which_form_was_kept_and_no_other(owner_client: Client) -> None:
    sent = {"name": "Fenna", "reliability": "100", "once": "ab" * 16}
    refused = owner_client.post("/register/contacts/new/", sent | {"reliability": "far"})
    assert KEPT not in refused.cookies
    assert f'data-answered="{"ab" * 16}"' in refused.content.decode()
    kept = owner_client.post("/register/contacts/new/", sent)
    again = owner_client.post("/register/contacts/new/", sent)
    assert [answer.cookies[KEPT].value for answer in (kept, again)] == ["ab" * 16] * 2
    assert "data-answered" not in owner_client.get("/register/contacts/new/").content.decode()
