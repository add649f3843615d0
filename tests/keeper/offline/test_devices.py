"""What a device is told: for whom an answer is, what it may keep; nothing if it was not asked."""

import re
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import URLPattern, get_resolver, resolve, reverse
from django.utils import timezone

from keeper import models as m
from keeper.domain.erasure import apart
from keeper.domain.offline import readers
from keeper.domain.offline.listed import KIND_OF, KINDS, NOT_WAITING
from tests.factories import AnimalFactory
from tests.keeper.accounts import declared

pytestmark = pytest.mark.django_db

READER, KEEP = "Keptlines-Reader", "Keptlines-Keep"
NAMES = {
    str(one.name): str(one.pattern)
    for one in get_resolver().url_patterns
    if isinstance(one, URLPattern)
}


def asks(client: Client, account: m.Account) -> None:
    client.cookies[readers.COOKIE] = readers.mark(account)


def test_a_device_that_was_not_asked_is_told_nothing(owner_client: Client) -> None:
    answer = owner_client.get("/")
    assert (READER in answer, KEEP in answer) == (False, False)
    assert answer["Cache-Control"] == "private, no-store"


def test_a_listed_page_may_be_kept_and_no_other(owner: m.Account, owner_client: Client) -> None:
    asks(owner_client, owner)
    animal = AnimalFactory.create()
    told = f"{readers.mark(owner)}.{readers.key(owner)}.1"
    for address, kind in (
        ("/", "Today"),
        (f"/animals/{animal.pk}/", "Animals you opened"),
        ("/animals/round/", "Rounds"),
        ("/daybook/", None),
        ("/accounts/", None),
        ("/register/contacts/", None),
    ):
        answer = owner_client.get(address)
        assert (answer[READER], answer.get(KEEP)) == (told, kind), address
        assert answer["Cache-Control"] == "private, no-store"


def test_what_is_no_good_whole_page_is_not_kept(owner: m.Account, owner_client: Client) -> None:
    asks(owner_client, owner)
    assert KEEP not in owner_client.get("/animals/99999/")
    assert KEEP not in owner_client.get("/", headers={"HX-Request": "true"})
    assert KEEP not in owner_client.post("/animals/round/")
    assert KEEP not in owner_client.get("/animals/round/each/")  # it leads elsewhere


def test_somebody_else_on_the_same_device_keeps_nothing(
    owner: m.Account, helper: m.Account, helper_client: Client
) -> None:
    asks(helper_client, owner)
    answer = helper_client.get("/")
    assert answer[READER] == f"{readers.mark(helper)}.{readers.key(helper)}.0"
    assert KEEP not in answer
    stranger = Client()
    asks(stranger, owner)
    assert stranger.get("/log-in/")[READER] == "-"


def test_the_key_follows_what_an_account_is_shown(
    helper: m.Account, settings: Any, tmp_path: Path
) -> None:
    settings.DATA = tmp_path
    keys = [readers.key(helper)]
    mark = readers.mark(helper)

    def changed() -> None:
        keys.append(readers.key(helper))

    helper.sees_people = True
    changed()
    helper.role = m.Role.VIEWER
    changed()
    helper.set_password("another long password")
    changed()
    apart.note(1, ["Somebody"], "2026-01-01")
    changed()
    m.Book.objects.update_or_create(
        pk=1, defaults={"epoch": "f" * 32, "restored_at": timezone.now()}
    )
    changed()
    assert len(set(keys)) == 6
    assert readers.mark(helper) == mark
    assert readers.key(helper) == keys[-1]


def test_no_mark_tells_whose_it_is(owner: m.Account, helper: m.Account) -> None:
    marks = {readers.mark(owner), readers.mark(helper), readers.key(owner), readers.key(helper)}
    assert len(marks) == 4
    assert all(re.fullmatch(r"[0-9a-f]{16}", one) for one in marks)


def test_a_keeper_asks_a_device_and_takes_it_back(owner: m.Account, owner_client: Client) -> None:
    page = reverse("home-self-offline")
    assert "Keep pages on this device" in owner_client.get(page).content.decode()
    answer = owner_client.post(page)
    cookie = answer.cookies[readers.COOKIE]
    assert (cookie.value, cookie["httponly"], cookie["samesite"]) == (
        readers.mark(owner),
        True,
        "Lax",
    )
    assert "Keep nothing here any more" in owner_client.get(page).content.decode()
    assert owner_client.post(page, {"stop": "1"}).cookies[readers.COOKIE].value == ""


def test_two_people_may_ask_one_device() -> None:
    one, other = "a" * 16, "b" * 16
    both = readers.with_mark(one, other)
    assert readers.asked_for(both) == (one, other)
    assert readers.with_mark(both, one) == both
    assert readers.without_mark(both, one) == other
    assert readers.asked_for("nonsense.<b>") == ()


def test_what_may_be_kept_is_an_address_that_reads_as_it_is_listed() -> None:
    assert set(KIND_OF) <= set(NAMES)
    private = (declared.OWNERS, declared.PEOPLE_READ, declared.PEOPLE_WRITTEN)
    assert set(KIND_OF).isdisjoint(set().union(*private))


def test_what_is_the_owners_alone_does_not_wait() -> None:
    # The page of what is for sale may: it is of the book, and read by its reader.
    for name in declared.OWNERS - {"animals-stock-public"}:
        route = f"/{NAMES[name]}"
        assert any(one in route for one in NOT_WAITING) or "data" in route, name


def test_the_page_says_what_is_kept(owner_client: Client) -> None:
    page = owner_client.get(reverse("home-self-offline")).content.decode()
    assert [kind for kind, _, _ in KINDS if f"<dt>{kind}</dt>" not in page] == []


def test_a_number_for_an_address_leads_to_a_name_that_stays(
    owner_client: Client, settings: Any
) -> None:
    settings.ALLOWED_HOSTS = ["192.168.1.20", "book.local"]
    page = reverse("home-self-offline")
    by_number = owner_client.get(page, headers={"Host": "192.168.1.20:8443"}).content.decode()
    assert 'href="http://book.local:8443/me/offline/"' in by_number
    by_name = owner_client.get(page, headers={"Host": "book.local:8443"}).content.decode()
    assert "This address is a number" not in by_name


def test_the_worker_serves_the_whole_site_from_files_that_are_there(client: Client) -> None:
    answer = client.get("/worker.js")
    assert (answer["Content-Type"], answer["Service-Worker-Allowed"]) == ("text/javascript", "/")
    assert answer["Cache-Control"] == "no-cache"
    text = answer.content.decode()
    files = re.findall(r'"/static/([^"?]+)', text)
    assert [one for one in files if finders.find(one) is None] == []
    assert 'importScripts("/static/js/away/store.js?v=' in text
    shown = client.get(reverse("offline-none")).content.decode()
    assert "data-account" not in shown
    needed = re.findall(r'(?:src|href)="/static/([^"?]+)', shown)
    assert [one for one in needed if one not in files and not one.endswith(".png")] == []


def test_what_scripts_ask_for_is_there() -> None:
    asked = set()
    for name in ("sending", "frame", "kept", "device"):
        found = finders.find(f"js/away/{name}.js")
        assert isinstance(found, str)
        asked |= set(re.findall(r'"(/(?:me/|worker)[^"?]*)"', Path(found).read_text()))
    assert {resolve(one).url_name for one in asked} == {
        *("home-self-offline-now", "home-self-offline-ahead", "home-self-waiting"),
        "offline-worker",
    }
    kept = finders.find("js/away/kept.js")
    assert isinstance(kept, str)
    assert [kind for kind, _, _ in KINDS if f'"{kind}"' not in Path(kept).read_text()] == []


def test_a_phone_is_told_how_to_put_the_book_on_its_first_screen(client: Client) -> None:
    said = client.get("/manifest.webmanifest").json()
    assert (said["name"], said["start_url"], said["display"]) == ("Keptlines", "/", "standalone")
    assert {one["sizes"] for one in said["icons"]} == {"192x192", "512x512"}


def test_a_device_reads_rounds_ahead_and_a_viewer_only_what_reads(
    owner_client: Client, client: Client, helper: m.Account
) -> None:
    AnimalFactory.create(place="Rack B · 1")
    ahead = reverse("home-self-offline-ahead")
    assert owner_client.get(ahead).json()["addresses"] == [
        *("/", "/me/waiting/", "/due/", "/animals/round/", "/clutches/new/", "/due/new/"),
        "/animals/round/?within=Rack+B",
    ]
    m.Account.objects.filter(pk=helper.pk).update(role=m.Role.VIEWER)
    client.force_login(helper, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(ahead).json()["addresses"] == ["/", "/me/waiting/", "/due/"]


def test_a_device_is_told_which_tokens_are_in_the_book(
    owner: m.Account, owner_client: Client
) -> None:
    entry = m.DaybookEntry.objects.create(by=owner, what="Weighed", token="a" * 32)
    now = owner_client.get(f"/me/offline/now/?of={'a' * 32},{'b' * 32},nonsense").json()
    assert now["written"] == {"a" * 32: f"/daybook/{entry.pk}/"}
    assert (now["who"], now["key"]) == (readers.mark(owner), readers.key(owner))
