"""Every address by every role and a stranger, and what nobody may read who may not see people.

The addresses are found by themselves, from the resolver; who may open them is declared by name.
"""

import copy
import io
import re
import zipfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from random import Random
from typing import TYPE_CHECKING, Any
from unittest import mock
from urllib.parse import urlsplit

import pyotp
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from django.urls import resolve, reverse

from keeper import models as m
from keeper.domain.accounts.inviting import invite
from keeper.domain.accounts.second_factor import new_secret, turn_on
from keeper.domain.book.writing import Refused, writing
from keeper.domain.explaining import clusters, explained
from keeper.domain.prospects.writes import keep_prospect
from keeper.domain.sheets.writes import issue
from keeper.domain.sources.writes import keep_paper
from keeper.urls import urlpatterns
from tests.factories import AccountFactory
from tests.keeper.accounts import declared
from tests.keeper.world import World, picture

if TYPE_CHECKING:
    from pytest_django import DjangoDbBlocker

SEED = 7
ANSWERED = {200, 302, 404, 405}


def test_every_address_is_declared_once() -> None:
    counted = Counter(name for names in declared.ALL for name in names)
    assert [name for name, often in counted.items() if often > 1] == []
    assert sorted(str(one.name) for one in urlpatterns) == sorted(counted)


@pytest.fixture(autouse=True)
def _pages_not_kept() -> Iterator[None]:
    """Spare the copies of what each part of a page was made of."""
    with mock.patch("django.test.client.store_rendered_templates", return_value=None):
        yield


@pytest.fixture(scope="module")
def _made(django_db_setup: None, django_db_blocker: "DjangoDbBlocker") -> Iterator[World]:
    """The book, written once; what a test does to it is taken back behind the test."""
    with django_db_blocker.unblock(), transaction.atomic():
        owner = AccountFactory.create(name="Mara", role="owner")
        invite(role="helper", sees_people=False, sees_prices=False, by=owner)
        m.Passkey.objects.create(
            account=owner, name="phone", host="book.local", credential="c", public="p", handle="h"
        )
        made = World(owner, SEED)
        spare = made.book.founder("F-9", "female")
        with writing(by=owner, what="Withdrew a founder") as book:
            book.withdraw(spare, reason="entered twice")
        yield made
        transaction.set_rollback(True)


@pytest.fixture
def world(_made: World, db: None) -> World:
    """A book with one of everything; one animal withdrawn, one invitation open."""
    world = copy.copy(_made)
    world.draw = Random(SEED)
    return world


def logged_in(account: m.Account) -> Client:
    client = Client()
    client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
    return client


def status(client: Client, address: str, method: str = "get") -> int:
    answer = getattr(client, method)(address)
    answer.getvalue()
    return int(answer.status_code)


def named(world: World, *sets: set[str]) -> list[str]:
    wanted = set().union(*sets)
    found = [one for one in world.addresses() if resolve(one).url_name in wanted]
    assert {resolve(one).url_name for one in found} >= wanted - {
        # Of what this book has none of; and an address that is told once.
        *("invitation", "animals-views-rename", "animals-views-remove", "home-disputes-surprise"),
        "calendar",
    }
    return found


def counts() -> tuple[int, ...]:
    return tuple(kind.objects.count() for kind in (m.DaybookEntry, m.Touch, m.Account, m.SavedView))


def test_a_stranger_is_led_to_the_log_in(world: World) -> None:
    closed = [names for names in declared.ALL if names is not declared.WAYS_IN]
    stranger = Client()
    for address in named(world, *closed):
        for method in ("get", "post"):
            answer = getattr(stranger, method)(address)
            assert (answer.status_code, answer["Location"]) == (302, f"/log-in/?next={address}")
    assert [status(stranger, one) for one in ("/log-in/", "/invitation/nothing/")] == [200, 410]
    assert [status(stranger, one) for one in ("/log-in/code/", "/set-up/")] == [302, 302]
    assert status(stranger, "/calendar/nothing.ics") == 404


def test_the_owner_opens_what_is_theirs_alone(world: World) -> None:
    # The rest is opened after each step of the walk through every page, which the owner does.
    client = logged_in(world.by)
    for address in named(world, declared.OWNERS, declared.OWN - {"log-out"}):
        assert status(client, address) in ANSWERED, address


def test_a_helper_opens_all_but_what_is_the_owners(world: World) -> None:
    client = logged_in(AccountFactory.create(sees_people=True, sees_prices=True))
    for address in named(world, declared.OWNERS):
        assert (status(client, address), status(client, address, "post")) == (403, 403), address
    # The rest is opened below, by one who may see all and one who may see nobody.
    for address in named(world, declared.PEOPLE_WRITTEN):
        assert status(client, address) in ANSWERED, address


def test_a_helper_without_the_right_opens_nothing_about_people(world: World) -> None:
    client = logged_in(AccountFactory.create(sees_prices=True))
    before = counts()
    for address in named(world, declared.OWNERS, declared.PEOPLE_READ, declared.PEOPLE_WRITTEN):
        assert (status(client, address), status(client, address, "post")) == (403, 403), address
    assert counts() == before


def test_a_viewer_reads_and_sends_nothing(world: World) -> None:
    client = logged_in(AccountFactory.create(role="viewer", sees_people=True))
    before = counts()
    closed = (declared.OWNERS, declared.WRITTEN, declared.PEOPLE_WRITTEN)
    for address in named(world, *closed):
        assert status(client, address) == 403, address
    for address in named(world, declared.READ, declared.PEOPLE_READ):
        assert status(client, address) in {200, 302, 404}, address
    for address in named(world, *closed, declared.READ, declared.PEOPLE_READ):
        for method in ("post", "put", "delete"):
            assert status(client, address, method) == 403, address
    assert counts() == before
    assert "ask the owner of the book to make you a helper" in client.get(
        reverse("animals-new")
    ).content.decode().replace("\n", " ")


def posted(page: str) -> list[str]:
    forms = re.findall(r'<form\b([^>]*\bmethod="post"[^>]*)>', page)
    return [one for form in forms for one in re.findall(r'\baction="([^"]*)"', form)]


def offered(page: str) -> set[str]:
    return set(re.findall(r'<a\b[^>]*\bhref="(/[^"#?]*)', page))


def test_the_book_itself_refuses_a_viewer(world: World) -> None:
    viewer = AccountFactory.create(name="Ida", role="viewer")
    with pytest.raises(Refused) as refusal, writing(by=viewer, what="Anything") as book:
        book.keep(m.Contact(name="nobody"))
    assert str(refusal.value) == "Ida may not write in this book. Ask its owner."


# ---- canaries ------------------------------------------------------------------------------------

CANARIES = {
    "name": "Zyrwick Canary Oone", "reach": "canary-two@zyr.example", "notes": "canarythree noted",
    "paper": "canaryfour says het", "pair": "canaryfive says one gene", "where": "canarysix table",
    "says": "canaryseven seller says", "prospect": "canaryeight of the prospect",
    "buyer": "Quanno Canary Nyne", "before": "Zyrwick Canary Tenn",
    "kept": "canaryeleven of the law",
}  # fmt: skip
PRICE = "canary 471 asked"


@pytest.fixture
def canaries(world: World) -> list[str]:
    """Every private field filled with a text of its own; returns all addresses that may show it."""
    by, book = world.by, world.book
    with writing(by=by, what=f"Bought from {CANARIES['name']}", reason=CANARIES["name"]) as entry:
        source = entry.keep(
            m.Contact(
                name=CANARIES["before"],
                reach=CANARIES["reach"],
                notes=CANARIES["notes"],
                kept_until=date(2036, 6, 1),
                kept_why=CANARIES["kept"],
            )
        )
        buyer = entry.keep(m.Contact(name=CANARIES["buyer"]))
    with writing(by=by, what=f"Renamed {source}") as entry:
        source.name = CANARIES["name"]
        entry.keep(source)
    for animal in m.Animal.objects.live().filter(clutch=None):
        with writing(by=by, what=f"{animal} is from {source}", subject=animal) as entry:
            animal.source = source
            entry.keep(animal)
    for said in m.Statement.objects.live():
        with writing(by=by, what=f"{said} by {source}") as entry:
            said.source = source
            entry.keep(said)
    dam = m.Animal.objects.get(code="F-1")
    paper = m.Paper(animal=dam, source=source, dated=date(2026, 6, 1), says=CANARIES["paper"])
    scan = SimpleUploadedFile("scan.jpg", picture().read(), "image/jpeg")
    keep_paper(paper=paper, by=by, scan=scan)
    with writing(by=by, what="Heard") as entry:
        for word in m.PairWord.objects.live():
            word.source, word.says = source, CANARIES["pair"]
            entry.keep(word)
    prospect = m.Prospect(
        species=book.species, name="brown male", sex="male", source=source, asked=PRICE,
        where=CANARIES["where"], says=CANARIES["says"], notes=CANARIES["prospect"],
    )  # fmt: skip
    keep_prospect(prospect=prospect, words=[], by=by)
    issue(animal=dam, by=by, buyer=buyer)
    return list(_all_of(world))


def _all_of(world: World) -> Iterator[str]:
    """Every address that is opened by GET, of every record and every explanation."""
    world.both = False
    both = set(world.addresses())
    both |= {reverse("sheets-one", args=[one.pk]) for one in m.Sheet.objects.all()}
    both |= {reverse("animals-history", args=[one.pk]) for one in m.Animal.objects.all()}
    both |= {reverse("animals-one", args=[one.pk]) for one in m.Animal.objects.all()}
    both |= {reverse("daybook-entry", args=[one.pk]) for one in m.DaybookEntry.objects.all()}
    both |= {reverse("animals-prospects-one", args=[one.pk]) for one in m.Prospect.objects.all()}
    both |= {reverse("register-contact", args=[one.pk]) for one in m.Contact.objects.all()}
    both |= {reverse("animals-document", args=[one.pk]) for one in m.Paper.objects.all()}
    for cluster in clusters():
        for one in explained(cluster):
            for dispute in cluster.disputes:
                both.add(reverse("home-disputes-explanation", args=[dispute.pk, one.key]))
    both |= {f"/search/?q={text}" for text in ("canary", "Zyrwick", "grey", "brown", "F-1")}
    both |= {f"/daybook/?page={page}" for page in range(1, 6)}
    # Every list is a file as well.
    both |= {f"{one}?file=csv" for one in both if "?" not in one and not resolve(one).kwargs}
    yield from sorted(both - {reverse("log-out")})


def text_of(answer: Any) -> str:
    whole: bytes = answer.getvalue()
    if "sheet" in answer.get("Content-Type", ""):
        with zipfile.ZipFile(io.BytesIO(whole)) as file:
            whole = b"".join(file.read(name) for name in file.namelist())
    return whole.decode("utf-8", "replace")


def _opened(account: m.Account, name: str, address: str) -> set[int]:
    """How an address may answer whoever it is."""
    people = declared.PEOPLE_READ | declared.PEOPLE_WRITTEN
    kind = resolve(address).kwargs.get("kind")
    written = declared.WRITTEN | declared.PEOPLE_WRITTEN
    if (
        name in declared.OWNERS
        or (account.role == "viewer" and name in written)
        or (not account.sees_people and (name in people or kind in ("contacts", "document")))
    ):
        return {403}
    return ANSWERED


@dataclass(frozen=True)
class Told:
    """What an account read: of each private text on which page first, and every page whole."""

    canaries: dict[str, str]
    pages: dict[str, str]


def told_to(account: m.Account, addresses: list[str]) -> Told:
    """Open all of these as somebody."""
    client = logged_in(account)
    told = Told({}, {})
    for address in addresses:
        answer = client.get(address)
        name, about = resolve(urlsplit(address).path).url_name, address.partition("?")[0]
        assert answer.status_code in _opened(account, str(name), about), address
        text = text_of(answer)
        for canary in (*CANARIES.values(), PRICE):
            if canary in text:
                told.canaries.setdefault(canary, address)
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            told.pages[address] = text
    return told


def test_only_whoever_may_reads_of_people_and_prices(canaries: list[str]) -> None:
    # Whoever may comes first: what is kept from one page to the next must not be handed to others.
    both = told_to(AccountFactory.create(sees_people=True, sees_prices=True), canaries).canaries
    assert set(both) == {*CANARIES.values(), PRICE}
    assert told_to(AccountFactory.create(role="helper"), canaries).canaries == {}
    viewer = AccountFactory.create(role="viewer")
    told = told_to(viewer, canaries)
    assert told.canaries == {}
    shown_no_form_and_no_link_that_is_refused(viewer, told.pages)
    telling = sorted(set(both.values()))
    people = told_to(AccountFactory.create(sees_people=True), telling).canaries
    assert set(people) == {*CANARIES.values()}
    assert told_to(AccountFactory.create(sees_prices=True), telling).canaries == {}


def shown_no_form_and_no_link_that_is_refused(viewer: m.Account, pages: dict[str, str]) -> None:
    """A viewer is offered nothing to send but what is their own, and no page that is closed."""
    read = [one for one in pages if resolve(one.partition("?")[0]).url_name in declared.READ]
    assert len(read) > 50
    links: dict[str, str] = {}
    for address in read:
        page = pages[address]
        links |= dict.fromkeys(offered(page), address)
        sent = posted(page)
        assert len(sent) == page.count('method="post"'), address
        assert {resolve(one).url_name for one in sent} <= declared.OWN, address
    assert len(links) > 50
    client = logged_in(viewer)
    further = links.keys() - pages.keys()
    assert {to: links[to] for to in further if status(client, to) == 403} == {}


def test_what_is_not_shown_stays_when_the_page_is_saved(canaries: list[str]) -> None:
    dam = m.Animal.objects.get(code="F-1")
    client = logged_in(AccountFactory.create())
    page = reverse("animals-edit", args=[dam.pk])
    assert "whoever sees sources enters it" in client.get(page).content.decode()
    sent = {"code": "F-1", "species": dam.species_id, "sex": "female", "status": "kept"}
    answer = client.post(page, {**sent, "place": "Rack 4", "reason": "moved"})
    assert answer.status_code == 302
    after = m.Animal.objects.get(pk=dam.pk)
    assert (after.place, after.source_id) == ("Rack 4", dam.source_id)


def test_a_second_factor_is_no_part_of_any_page(world: World) -> None:
    owner, secret = world.by, new_secret()
    codes = turn_on(account=owner, secret=secret, code=pyotp.TOTP(secret).now())
    client = logged_in(owner)
    for address in ("/accounts/", f"/accounts/{owner.pk}/", "/me/", "/me/second/", "/daybook/"):
        page = client.get(address).content.decode()
        assert not any(one in page for one in (secret, *codes))
