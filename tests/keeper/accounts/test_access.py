"""Denied by default: what a stranger, a helper and the owner are answered."""

from collections.abc import Iterator

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from pytest_django.asserts import assertContains, assertRedirects

from keeper.models import Account
from keeper.pages.frame import shell

pytestmark = pytest.mark.django_db

# Everything a stranger may open. Nothing is added here without a reason that names the danger.
# Three tell that the book runs, and nothing of what is in it.
# A calendar has no log-in to send: its address is the secret, of one account, told once, and made
# anew or switched off at will.
# The papers show a sheet by an address of 128 random bits, and name no person but its issuer.
OPEN_TO_ALL = {
    "papers-stock",
    "log-in",
    "log-in-code",
    # Whoever shows a passkey that signed a challenge of the session.
    "log-in-passkey",
    "log-in-passkey-ask",
    "set-up",
    "invitation",
    "alive",
    "ready",
    "metrics",
} | {
    "papers-one",
    "papers-proof",
    "calendar",
    # What a device fetches without a cookie: the same for everybody.
    "offline-none",
    "offline-manifest",
    "offline-worker",
}


def patterns(resolver: URLResolver | None = None) -> Iterator[URLPattern]:
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            yield from patterns(entry)
        else:
            yield entry


def test_nothing_else_is_open_to_all() -> None:
    unlocked = {
        entry.name for entry in patterns() if not getattr(entry.callback, "login_required", True)
    }
    assert unlocked == OPEN_TO_ALL


def test_every_address_has_a_name() -> None:
    assert [str(entry.pattern) for entry in patterns() if not entry.name] == []


@pytest.mark.parametrize("method", ["get", "post", "put", "delete"])
def test_strangers_are_sent_to_log_in(client: Client, owner: Account, method: str) -> None:
    for address in ("/", "/begin/", "/theme/", "/log-out/"):
        response = getattr(client, method)(address)
        assertRedirects(response, f"/log-in/?next={address}")


def test_strangers_asking_for_a_part_get_the_whole_log_in_page(
    client: Client, owner: Account
) -> None:
    response = client.get("/", headers={"HX-Request": "true"})
    assert (response.status_code, response.headers["HX-Redirect"]) == (200, "/log-in/")
    assert response.content == b""


def test_pages_that_are_not_there_say_so(client: Client, owner_client: Client) -> None:
    for visitor in (client, owner_client):
        assertContains(visitor.get("/nowhere/"), "This page is not in the book", status_code=404)


def test_forms_without_their_token_are_refused(owner: Account) -> None:
    strict = Client(enforce_csrf_checks=True)
    assertContains(strict.post("/log-in/", {"username": "Mara"}), "open too long", status_code=403)


def test_answers_carry_the_security_headers(client: Client, owner: Account) -> None:
    headers = client.get("/log-in/").headers
    policy = set(headers["Content-Security-Policy"].split("; "))
    assert policy == {
        "default-src 'self'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "object-src 'none'",
    }
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"


def test_requests_for_other_names_are_refused(client: Client, owner: Account) -> None:
    # Guards against pages elsewhere that point a name of theirs at this machine.
    assert client.get("/log-in/", headers={"Host": "elsewhere.example"}).status_code == 400


@pytest.mark.parametrize(
    ("chosen", "kept"), [("dark", "dark"), ("light", "light"), ("pink", "system")]
)
def test_theme_is_kept_on_the_device(owner_client: Client, chosen: str, kept: str) -> None:
    assertRedirects(owner_client.post("/theme/", {"theme": chosen, "back": "/"}), "/")
    assertContains(owner_client.get("/"), f'<html lang="en-GB" data-theme="{kept}">')


def test_theme_never_leads_elsewhere(owner_client: Client) -> None:
    response = owner_client.post("/theme/", {"theme": "dark", "back": "//elsewhere.example/"})
    assertRedirects(response, "/")


@pytest.mark.parametrize(
    ("view_name", "current"),
    [("animals", True), ("animals-edit", True), ("animalsish", False), ("home", False)],
)
def test_navigation_marks_the_area_of_the_page(view_name: str, current: bool) -> None:
    assert shell.Entry("Animals", "animals", "day").is_current(view_name) is current


def test_navigation_has_five_entries_that_lead_somewhere(owner_client: Client) -> None:
    # More would not fit a thumb's width each on a phone.
    links = shell.navigation("animals-one")
    assert [(link.label, link.is_current) for link in links] == [
        ("Today", False),
        ("Animals", True),
        ("Clutches", False),
        ("Projects", False),
        ("Register", False),
    ]
    assert [owner_client.get(link.url).status_code for link in links] == [200] * 5
    icons = [render_to_string("components/icon.html", {"name": link.icon}) for link in links]
    assert len({icon for icon in icons if "<path" in icon}) == 5


def test_today_is_marked_in_the_navigation(owner_client: Client) -> None:
    assertContains(owner_client.get("/"), 'aria-current="page"', count=1)
