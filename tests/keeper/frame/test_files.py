"""Every list gives a file of what it shows, with its filters, and no cell of it is a formula."""

import csv
import io
import re
from collections.abc import Callable, Iterator
from html import unescape
from typing import TYPE_CHECKING

import pytest
from django.db import transaction
from django.http import QueryDict
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.sheets.writes import issue
from keeper.urls import urlpatterns
from tests.factories import AccountFactory, ContactFactory
from tests.keeper.world import World

if TYPE_CHECKING:
    from pytest_django import DjangoDbBlocker

pytestmark = pytest.mark.django_db
Arguments = dict[str, object]


def _first(model: type[m.Record]) -> Callable[[], Arguments]:
    return lambda: {"pk": model.objects.live().order_by("pk")[0].pk}


# List → what its address takes, a filter, and the column whose cells stand on the page.
LISTS: dict[str, tuple[Callable[[], Arguments], str, str]] = {
    "animals": (dict, "", "Code"),
    "clutches": (dict, "", "clutch"),
    "daybook": (dict, "about=register", "What"),
    "projects": (dict, "", "Project"),
    "projects-one": (_first(m.Project), "", "Code"),
    "projects-season": (dict, "", "Dam"),
    "projects-proving": (dict, "", "Code"),
    "animals-prospects": (dict, "", "Name"),
    "animals-stock": (dict, "", "Animal"),
    "sheets-notices": (dict, "", "Animal"),
    "animals-places": (dict, "", "Place"),
    "home-due": (dict, "", "Group"),
    "clutches-figures": (dict, "by=dam", "Group"),
    "clutches-figures-looks": (dict, "", "Of"),
    "clutches-figures-record": (dict, "", "Said"),
    "animals-husbandry": (
        lambda: {"pk": m.Animal.objects.get(code="F-1").pk},
        "of=weight",
        "Weights",
    ),
    "animals-mates": (lambda: {"pk": m.Animal.objects.get(code="F-1").pk}, "", "Mate"),
    "animals-mates-asked": (dict, "says=Saltgrass", "Mate"),
    "home-disputes": (dict, "", "Records"),
    "home-disputes-rates": (dict, "", "What"),
    "register": (dict, "", "Trait"),
    "register-species": (_first(m.Species), "", "Trait"),
    "register-lines": (lambda: {"trait": m.Line.objects.get(code="PEL").trait_id}, "", "Line"),
    "register-contacts": (dict, "", "Name"),
    "register-laboratories": (dict, "", "Name"),
    "search": (dict, "q=e", "What"),
}
# Pages without a record of their own that are no lists, or none to carry elsewhere.
NO_LISTS = {
    "home": "what waits today; each part of it leads to its list",
    "home-accounts": "who may log in; it is of use in this book alone",
    "home-accounts-invite": "a form",
    "home-self": "one's own page: password, second factor, log-ins",
    "home-self-password": "a form",
    "home-self-end": "a button",
    "home-self-reach": "a form",
    "home-self-second": "a form",
    "home-self-passkeys": "one's own keys; of use in this book alone",
    "home-self-passkeys-add": "a form",
    "home-self-passkeys-ask": "a button",
    "home-backups": "copies of the book; each is a file already",
    "home-backups-make": "a button",
    "home-backups-settings": "a form",
    "home-backups-passphrase": "a form",
    "home-backups-receive": "a form",
    "daybook-withdrawn": "what can be brought back; it is in the daybook's own file",
    "home-archives": "the whole book is the file",
    "home-archives-file": "the whole book is the file",
    "home-archives-open": "a form",
    "home-archives-inside": "what is in an archive, before it is opened",
    "animals-views": "each person's own filters",
    "animals-imports": "tables that were brought in; each is a file already",
    "animals-signed-papers": "papers of other books; each is a file already",
    "animals-paper": "the list of animals, laid out for printing",
    "animals-stock-public": "a form",
    "animals-sale-new": "a form over animals chosen in the stock",
    "animals-together": "a form over animals chosen in their list",
    "animals-diversity": "its tables have files of their own, one each",
    "animals-round": "a form over the animals of a place",
    "animals-round-each": "a form over one animal of a place after another",
    "animals-round-paper": "the round with room to write; the animals are a list of their own",
    "home-due-new": "a form",
    "home-due-chore": "a form",
    "home-due-chore-withdraw": "a form",
    "home-self-calendar": "a button; the calendar is a file already",
    "home-self-offline": "a button; what is kept is on the device",
    "home-self-waiting": "a list of the device's own, which saves it as a file by itself",
    "home-self-offline-now": "told to a device",
    "home-self-offline-ahead": "told to a device",
    "offline-none": "what a device shows without a connection",
    "offline-manifest": "a file already",
    "offline-worker": "a file already",
    "calendar": "a calendar, at an address that is told once",
    "animals-places-written": "a button",
    "animals-labels": "labels; each of what was printed is a file already",
    "animals-labels-list": "leads to labels of the animals of a list",
    "animals-labels-new": "a form",
    "animals-labels-sheet-new": "a form",
    "clutches-pairing": "one pair looked up",
    "clutches-pick": "part of a form",
    "clutches-file": "the file of clutches",
    "projects-hold": "a form",
    "sheets-keys": "keys that sign; their fingerprints stand on the papers",
    "sheets-keys-change": "a form",
    "sheets-keys-lost": "a form",
    "sheets-keys-take-up": "a button",
    "alive": "a word for whoever watches the server",
    "ready": "a word for whoever watches the server",
    "metrics": "figures for whoever watches the server",
}
_ITS_OWN = {"animals": "/animals/export.csv", "clutches": "/clutches/file.csv"}


@pytest.fixture(scope="module")
def world(django_db_setup: None, django_db_blocker: "DjangoDbBlocker") -> Iterator[Client]:
    """A book with one of everything, in which a list's texts would be formulas."""
    with django_db_blocker.unblock(), transaction.atomic():
        owner = AccountFactory.create(name="Mara", role="owner")
        book = World(owner, 2).book
        book.founder("F-9", "female", "possible", "1/2")
        sire = book.founder("M-9", "male", "visual")
        # A sheet of which its holder is to be told something.
        dam = book.founder("F-8", "female", "possible", "1/2")
        issue(animal=dam, by=owner)
        book.clutch("C-9", dam, sire, visual=1)
        for name in ("=1+1", "\uff1dHYPERLINK(1)", "@sum"):
            ContactFactory.create(name=name)
        client = Client()
        client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
        yield client
        transaction.set_rollback(True)


def page_of(client: Client, name: str) -> tuple[str, str]:
    """The address of a list and its page."""
    arguments, query, _ = LISTS[name]
    address = reverse(name, kwargs=arguments()) + (f"?{query}" if query else "")
    answer = client.get(address)
    assert answer.status_code == 200
    return address, answer.content.decode()


def link_in(page: str, name: str, address: str) -> str:
    """The address of the file that a page leads to."""
    if name in _ITS_OWN:
        (found,) = re.findall(rf'href="({re.escape(_ITS_OWN[name])}[^"]*)"', page)
        return unescape(found)
    (found,) = re.findall(r'href="(\?[^"]*file=csv[^"]*)"', page)
    return address.partition("?")[0] + unescape(found)


def rows_at(client: Client, address: str) -> list[dict[str, str]]:
    answer = client.get(address)
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/csv")
    assert re.fullmatch(
        r'attachment; filename="[\w-]+-\d{4}-\d\d-\d\d\.csv"', answer["Content-Disposition"]
    )
    text = answer.getvalue().decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.mark.parametrize("name", LISTS)
def test_a_list_leads_to_a_file_of_what_it_shows(name: str, world: Client) -> None:
    address, page = page_of(world, name)
    rows = rows_at(world, link_in(page, name, address))
    assert rows
    shown = unescape(re.sub(r"<[^>]+>", " ", page))
    flat = " ".join(shown.split())
    column = LISTS[name][2]
    missing = [
        part
        for row in rows
        for part in row[column].removeprefix("'").split("; ")
        if " ".join(part.split()) not in flat
    ]
    assert missing == []
    assert [cell for row in rows for cell in row.values() if is_formula(cell)] == []


def is_formula(cell: str) -> bool:
    """Whether a spreadsheet might work a cell out, a plain number left aside."""
    signs = {*"=+-@", *"\uff1d\uff0b\uff0d\uff20"}
    return not re.fullmatch(r"-?[\d.]+(e-?\d+)?", cell) and cell.lstrip()[:1] in signs


def test_files_keep_the_filters(world: Client) -> None:
    contacts = rows_at(world, reverse("register-contacts") + "?q=pelnaw&file=csv")
    assert [row["Name"] for row in contacts] == ["Ansel of Pelnaw"]
    page = world.get(reverse("register-contacts") + "?q=pelnaw&page=1").content.decode()
    link = QueryDict(link_in(page, "register-contacts", "").removeprefix("?"))
    assert link.dict() == {"q": "pelnaw", "file": "csv"}
    closed = rows_at(world, reverse("projects") + "?closed=1&file=csv")
    assert closed == []
    nobody = rows_at(world, reverse("daybook") + "?until=1999-01-01&file=csv")
    assert nobody == []


def test_a_file_has_all_pages(world: Client) -> None:
    entries = m.DaybookEntry.objects.count()
    with transaction.atomic():
        for number in range(60):
            m.DaybookEntry.objects.create(what=f"entry {number}")
        rows = rows_at(world, reverse("daybook") + "?page=2&file=csv")
        transaction.set_rollback(True)
    assert len(rows) == entries + 60


def test_every_page_without_a_record_is_a_list_or_not() -> None:
    known = {*LISTS, *NO_LISTS}
    alone = {
        pattern.name or ""
        for pattern in urlpatterns
        if not pattern.pattern.converters and not pattern.pattern.regex.groupindex
    }
    passing = ("log-", "set-up", "begin", "theme")
    forms = ("-new",)
    assert {
        name for name in alone - known if not name.startswith(passing) and not name.endswith(forms)
    } == set()
    assert [one for one in NO_LISTS.values() if not one.strip()] == []
