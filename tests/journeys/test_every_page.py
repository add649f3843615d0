"""Every address of the book that can be opened, on the example collection, seen by axe.

The list is made from the addresses themselves: a page that is new is missed here by name until
somebody says with which arguments it is opened.
"""

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from django.urls import get_resolver, resolve, reverse
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page
from pytest_django.live_server_helper import LiveServer

from keeper import models as m
from keeper.domain import explaining, inference
from keeper.domain.animals import photos
from keeper.domain.backups import making, shelf
from keeper.domain.collection import saved_views
from keeper.domain.example import replaying as example
from keeper.domain.imports import changing
from keeper.domain.imports.choices import Choices
from keeper.domain.labels.addresses import path_of
from keeper.domain.labels.queries import tallies_of
from keeper.domain.labels.writes import Wanted, keep_sheet, print_labels
from keeper.domain.projects import writes as projects
from keeper.domain.sheets import notices
from keeper.domain.sources import writes as sources
from keeper.domain.stock import public as stock_page
from tests.factories import AccountFactory
from tests.journeys.conftest import SCREENS, Axe, fits
from tests.keeper.travel.rows import came_with

if TYPE_CHECKING:
    from pytest_django import DjangoDbBlocker

# Asked for by the tests, so that there is a database; what the server reads is committed before.
pytestmark = pytest.mark.django_db

Arguments = dict[str, Any]


def _animal(code: str) -> Arguments:
    return {"pk": m.Animal.objects.get(code=code).pk}


def _clutch(code: str) -> Arguments:
    return {"pk": m.Clutch.objects.get(code=code).pk}


def _trait(name: str, argument: str = "pk") -> Arguments:
    return {argument: m.Trait.objects.get(name=name).pk}


def _species(argument: str = "pk") -> Arguments:
    return {argument: m.Species.objects.get(name="Royal python").pk}


def _first(model: type[m.Record], **which: Any) -> Arguments:
    return {"pk": model._default_manager.filter(**which).order_by("pk")[0].pk}


def _grounds() -> Arguments:
    return _animal("26-05-04") | _trait("Thrift", "trait")


def _dispute() -> Arguments:
    return {"pk": m.Dispute.objects.filter(closed=None).order_by("pk")[0].pk}


def _pair(dam: str, sire: str) -> Arguments:
    return {"query": {"dam": _animal(dam)["pk"], "sire": _animal(sire)["pk"]}}


def _asked(says: str) -> Arguments:
    return {"query": {"says": says} | _species("species")}


def _sale() -> Arguments:
    return _first(m.Sale)


def _copy() -> Arguments:
    return {"place": "first", "name": shelf.read().made[0].name}


def _paper() -> Arguments:
    return {"code": m.Sheet.objects.order_by("pk")[0].page_code}


def _issuing() -> Arguments:
    made = m.Touch.objects.filter(record_type__model="sheet", created=True).order_by("pk")
    return {"pk": made[0].entry_id}


def _import() -> Arguments:
    return {"pk": m.Import.objects.order_by("pk")[0].pk}


def _signed_paper() -> Arguments:
    return _first(m.SignedPaper)


def _scanned(label: m.Label) -> Arguments:
    return resolve(path_of(label)).kwargs


def _open_prospect() -> Arguments:
    return _first(m.Prospect, withdrawn_at=None, bought=None)


def _open_lines() -> Arguments:
    pair = m.OpenPair.objects.order_by("pk")[0]
    return {"one": pair.one_id, "other": pair.other_id}


def _settled_lines() -> Arguments:
    one, other = m.Line.objects.filter(trait__name="Saltgrass").order_by("pk")[:2]
    return {"one": one.pk, "other": other.pk}


# With what a page is opened: arguments of its address, and under `query` what follows it.
PAGES: dict[str, Callable[[], list[Arguments]]] = {
    "home": lambda: [{}],
    "home-accounts": lambda: [{}],
    "home-archives": lambda: [{}],
    "home-archives-open": lambda: [{}],
    "home-backups": lambda: [{}],
    "home-backups-settings": lambda: [{}],
    "home-backups-passphrase": lambda: [{}],
    "home-backups-receive": lambda: [{}],
    "home-backups-one": lambda: [_copy()],
    "home-disputes": lambda: [{}],
    "home-disputes-one": lambda: [_dispute()],
    "home-disputes-explanations": lambda: [_dispute()],
    "home-disputes-rates": lambda: [{}],
    "home-disputes-rate": lambda: [{"kind": "look"}],
    "home-accounts-one": lambda: [{"pk": one.pk} for one in m.Account.objects.order_by("pk")[:2]],
    "home-accounts-invite": lambda: [{}],
    "home-self": lambda: [{}],
    "home-self-password": lambda: [{}],
    "home-self-reach": lambda: [{}],
    "home-self-passkeys": lambda: [{}],
    "home-self-passkeys-remove": lambda: [{"pk": m.Passkey.objects.get().pk}],
    "home-accounts-password": lambda: [{"pk": m.Account.objects.get(name="Tobin").pk}],
    "animals": lambda: [{}, {"query": {"q": "nothing is called so"}}],
    "animals-paper": lambda: [{}],
    "animals-imports": lambda: [{}],
    "animals-signed-papers": lambda: [{}],
    "animals-signed-paper": lambda: [_signed_paper()],
    "animals-imports-one": lambda: [_import(), _import() | {"query": {"show": "problem"}}],
    "animals-imports-columns": lambda: [_import()],
    "animals-imports-questions": lambda: [_import()],
    "animals-imports-row": lambda: [_import() | {"number": 2}],
    "animals-imports-throw-away": lambda: [_import()],
    "animals-diversity": lambda: [
        {},
        {"query": {"project": _first(m.Project, name="Saltgrass Quillwort")["pk"]}},
    ],
    "animals-views": lambda: [{}],
    "animals-new": lambda: [{}],
    "animals-one": lambda: [_animal("F-014"), _animal("26-05-04")],
    "animals-edit": lambda: [_animal("F-014")],
    "animals-withdraw": lambda: [_animal("F-014")],
    "animals-history": lambda: [_animal("F-014")],
    "animals-grounds": lambda: [_grounds(), _grounds() | {"query": {"by": "days"}}],
    "animals-pedigree": lambda: [
        _animal("F-014"),
        _animal("26-05-04") | {"query": {"up": 6, "down": 3, "size": "whole"}},
    ],
    "animals-telling": lambda: [_animal("25-04-01") | _trait("Saltgrass", "trait")],
    "animals-observe": lambda: [_animal("F-014")],
    "animals-look": lambda: [_first(m.Look)],
    "animals-statement-new": lambda: [_animal("F-014")],
    "animals-document-new": lambda: [_animal("F-014")],
    "animals-photos": lambda: [_animal("F-014"), _animal("F-004")],
    "animals-photo-new": lambda: [_animal("F-014")],
    "animals-observation": lambda: [_first(m.Observation)],
    "animals-statement": lambda: [_first(m.Statement)],
    "animals-document": lambda: [_first(m.Paper)],
    "animals-photo": lambda: [_first(m.Photo)],
    "animals-record-withdraw": lambda: [{"kind": "observation"} | _first(m.Observation)],
    "animals-mates": lambda: [
        _animal("F-014"),
        _animal("26-05-04"),
        _animal("21-05-02") | {"query": {"all": 1}},
    ],
    "animals-mates-asked": lambda: [
        {},
        _asked("1.0 visual Saltgrass (HAR), 66 % poss het Quilwort"),
        _asked("1.0 visual Saltgrass (HAR), 66 % poss het Quillwort"),
    ],
    "animals-sheet": lambda: [_animal("F-014"), _animal("26-05-04")],
    "animals-stock": lambda: [{}, {"query": {"list": "sold"}}],
    "animals-stock-public": lambda: [{}],
    "papers-stock": lambda: [{"code": m.StockPage.objects.get().code}],
    "animals-stock-offer": lambda: [_animal("F-014")],
    "animals-stock-end": lambda: [_animal("F-014")],
    "animals-sale": lambda: [_sale()],
    "animals-sale-new": lambda: [{}, {"query": {"animal": _animal("F-014")["pk"]}}],
    "animals-sale-edit": lambda: [_sale()],
    "animals-sale-step": lambda: [_sale() | {"step": "take-back"}],
    "animals-sale-withdraw": lambda: [_sale()],
    "animals-listing": lambda: [_animal("F-014"), _animal("26-05-04")],
    "animals-husbandry": lambda: [_animal("F-014"), _animal("F-014") | {"query": {"of": "weight"}}],
    "animals-husbandry-new": lambda: [
        _animal("F-014") | {"kind": kind} for kind in ("meal", "weight", "health", "quarantine")
    ],
    "animals-husbandry-record": lambda: [{"kind": "meal"} | _first(m.Meal)],
    "animals-husbandry-record-withdraw": lambda: [{"kind": "meal"} | _first(m.Meal)],
    "home-due": lambda: [{}, {"query": {"by": "person"}}],
    "home-due-new": lambda: [{}],
    "home-due-chore": lambda: [_first(m.Chore, done_on=None)],
    "home-due-chore-withdraw": lambda: [_first(m.Chore, done_on=None)],
    "home-self-calendar": lambda: [{}],
    "home-self-offline": lambda: [{}],
    "home-self-waiting": lambda: [{}],
    "offline-none": lambda: [{}],
    "animals-round-paper": lambda: [{"query": {"within": "Rack 6"}}],
    "animals-round": lambda: [{}, {"query": {"within": "Rack 6"}}],
    "animals-round-each": lambda: [{"query": {"within": "Rack 6"}}],
    "animals-places": lambda: [{}],
    "animals-labels": lambda: [{}],
    "animals-labels-new": lambda: [
        {},
        {"query": {"animal": _animal("F-014")["pk"], "hatch": _clutch("26-01")["pk"]}},
    ],
    "animals-labels-run": lambda: [_first(m.LabelRun)],
    "animals-labels-sheet-new": lambda: [{}, {"query": {"like": "a4-21"}}],
    "animals-labels-sheet": lambda: [_first(m.LabelSheet)],
    "animals-labels-sheet-withdraw": lambda: [_first(m.LabelSheet)],
    "animals-at": lambda: [_scanned(label) for label in m.Label.objects.filter(tub=None)],
    "animals-at-tub": lambda: [_scanned(m.Label.objects.exclude(tub=None)[0])],
    "animals-places-new": lambda: [{}],
    "animals-places-one": lambda: [_first(m.Place)],
    "animals-places-edit": lambda: [_first(m.Place)],
    "animals-places-withdraw": lambda: [_first(m.Place)],
    "animals-prospects": lambda: [{}, {"query": {"state": "gone"}}],
    "animals-prospects-new": lambda: [{}],
    "animals-prospects-one": lambda: [_first(m.Prospect)],
    "animals-prospects-edit": lambda: [_open_prospect()],
    "animals-prospects-message": lambda: [_open_prospect()],
    "animals-prospects-let-go": lambda: [_open_prospect()],
    "animals-prospects-buy": lambda: [_open_prospect()],
    "daybook": lambda: [{}, {"query": {"about": "register", "only": "moved"}}],
    "daybook-withdrawn": lambda: [{}, {"query": {"kind": "sheet"}}],
    "daybook-entry": lambda: [{"pk": m.StandingChange.objects.order_by("-pk")[0].entry_id}],
    "search": lambda: [{}, {"query": {"q": "salt"}}, {"query": {"q": "zz"}}],
    "clutches": lambda: [{}],
    "clutches-new": lambda: [{}, {"query": {"dam": _animal("F-016")["pk"]}}],
    "animals-way": lambda: [_animal("21-05-01"), _animal("F-004")],
    "animals-way-noted": lambda: [_first(m.BreedingEvent, kind="follicles")],
    "clutches-way": lambda: [_clutch("26-08"), _clutch("26-07")],
    "clutches-way-young": lambda: [_clutch("26-07")],
    "clutches-way-box-new": lambda: [_clutch("26-08")],
    "clutches-way-box": lambda: [_first(m.Incubation)],
    "clutches-way-noted": lambda: [_first(m.ClutchStep)],
    "clutches-pairing": lambda: [{}, _pair("F-022", "F-023")],
    "clutches-one": lambda: [_clutch("26-05"), _clutch("26-08")],
    "clutches-pedigree": lambda: [_clutch("26-05")],
    "clutches-figures": lambda: [{}, {"query": {"by": "dam"}}, {"query": {"by": "incubator"}}],
    "clutches-figures-looks": lambda: [{}],
    "clutches-figures-record": lambda: [{}],
    "clutches-edit": lambda: [_clutch("25-01")],
    "clutches-withdraw": lambda: [_clutch("26-08")],
    "clutches-hatch": lambda: [_clutch("26-08")],
    "clutches-record": lambda: [_first(m.HatchRow, count__gt=0)],
    "animals-together": lambda: [{"query": {"q": "26-01"}}],
    "projects": lambda: [{}],
    "projects-new": lambda: [{}],
    "projects-season": lambda: [{}, {"query": {"go": 1, "season": 2027, "clutches": 6}}],
    "projects-proving": lambda: [{}, {"query": {"all": 1, **_trait("Quillwort", "trait")}}],
    "projects-proving-one": lambda: [
        {"animal": _animal(code)["pk"]} | _trait(trait, "trait")
        for code, trait in (
            ("21-05-02", "Saltgrass"),
            ("F-010", "Quillwort"),
            ("F-014", "Saltgrass"),
        )
    ],
    "projects-season-new": lambda: [_pair("F-022", "F-023")],
    "projects-season-pairing": lambda: [_first(m.PlannedPairing)],
    "projects-hold": lambda: [{"query": {"animal": _animal("26-01-03")["pk"]}}],
    "projects-hold-young": lambda: [_first(m.Clutch, code="26-01")],
    "projects-one": lambda: [_first(m.Project, name="Saltgrass Quillwort")],
    "projects-pedigree": lambda: [_first(m.Project, name="Saltgrass Quillwort")],
    "projects-edit": lambda: [_first(m.Project, name="Saltgrass Quillwort")],
    "projects-advice": lambda: [_clutch("26-01"), _clutch("26-08")],
    "projects-ways": lambda: [_first(m.Project, name="Halftide Samphire")],
    "projects-plan-give-up": lambda: [_first(m.Plan)],
    # Each change would be compared after the page is shown: a journey of its own waits for that.
    "projects-outlook": lambda: [
        _first(m.Project, name="Saltgrass Quillwort") | {"query": {"change": "pair", "seasons": 4}}
    ],
    "projects-together": lambda: [_first(m.Project, name="Saltgrass Quillwort")],
    "projects-close": lambda: [_first(m.Project, closed_on=None)],
    "projects-reopen": lambda: [_first(m.Project, closed_on__isnull=False)],
    "projects-review": lambda: [_first(m.Member, review_on__isnull=False, released_on=None)],
    "projects-release": lambda: [_first(m.Member, released_on=None)],
    "sheets-one": lambda: [_first(m.Sheet)],
    "sheets-new": lambda: [{"query": {"animal": _animal("F-014")["pk"]}}],
    "sheets-several": lambda: [_issuing()],
    "sheets-withdraw": lambda: [_first(m.Sheet)],
    "sheets-keys": lambda: [{}],
    "sheets-notices": lambda: [{}],
    "sheets-tell": lambda: [{"pk": notices.open_notices()[0].sheet.pk}],
    "sheets-keys-change": lambda: [{}],
    "sheets-keys-lost": lambda: [{}],
    "papers-one": lambda: [_paper()],
    "register": lambda: [{}],
    "register-species-new": lambda: [{}],
    "register-species": lambda: [_species()],
    "register-species-edit": lambda: [_species()],
    "register-trait-new": lambda: [_species("species")],
    "register-trait-by-hand": lambda: [_species("species")],
    "register-complex-new": lambda: [_species("species")],
    "register-trait-template": lambda: [
        {"kind": kind} | _species("species") for kind in ("harmful", "linked", "hiding")
    ],
    "register-trait-parts": lambda: [_trait("Saltgrass")],
    "register-look-new": lambda: [_species("species")],
    "register-look": lambda: [_first(m.NamedLook)],
    "register-look-edit": lambda: [_first(m.NamedLook)],
    "register-link-new": lambda: [_species("species")],
    "register-trait": lambda: [_trait("Saltgrass")],
    "register-trait-edit": lambda: [_trait("Saltgrass")],
    "register-line-new": lambda: [_trait("Saltgrass", "trait")],
    "register-combination-new": lambda: [{"trait": m.Showing.objects.all()[0].trait_id}],
    "register-combination-edit": lambda: [_first(m.Showing)],
    "register-line": lambda: [_first(m.Line)],
    "register-line-pedigree": lambda: [_first(m.Line)],
    "register-line-edit": lambda: [_first(m.Line)],
    "register-line-place": lambda: [_first(m.Line)],
    "register-lines": lambda: [_trait("Saltgrass", "trait"), _trait("Thrift", "trait")],
    "register-lines-pair": lambda: [_open_lines(), _settled_lines()],
    "register-lines-open": lambda: [_settled_lines()],
    "register-lines-word-new": lambda: [_open_lines()],
    "register-lines-report-new": lambda: [_open_lines()],
    "register-lines-word": lambda: [_first(m.PairWord)],
    "register-lines-word-withdraw": lambda: [_first(m.PairWord)],
    "register-pair": lambda: [_first(m.OpenPair)],
    "register-pair-weigh": lambda: [_first(m.OpenPair)],
    "register-locus": lambda: [{"pk": m.Survival.objects.all()[0].locus_id}],
    "register-locus-edit": lambda: [{"pk": m.Survival.objects.all()[0].locus_id}],
    "register-survival-new": lambda: [{"locus": m.Survival.objects.all()[0].locus_id}],
    "register-survival-edit": lambda: [_first(m.Survival)],
    "register-link-edit": lambda: [_first(m.Interval)],
    "register-contacts": lambda: [{}],
    "register-contact-new": lambda: [{}],
    "register-contact": lambda: [_first(m.Contact)],
    "register-contact-edit": lambda: [_first(m.Contact)],
    "register-contact-erase": lambda: [_first(m.Contact)],
    "register-withdraw": lambda: [{"kind": "contacts"} | _first(m.Contact)],
    "register-laboratories": lambda: [{}],
    "register-laboratory-new": lambda: [{}],
    "register-laboratory": lambda: [_first(m.Laboratory, withdrawn_at=None)],
    "register-laboratory-edit": lambda: [_first(m.Laboratory, withdrawn_at=None)],
    "register-laboratory-withdraw": lambda: [_first(m.Laboratory, withdrawn_at=None)],
    "animals-lab-test-new": lambda: [_animal("F-014")],
    "animals-lab-test": lambda: [_first(m.LabTest)],
}
# No pages: files, and what is put into a page.
PARTS: dict[str, tuple[str, Callable[[], Arguments]]] = {
    "home-backups-file": ("application/zip", lambda: _copy()),
    "animals-labels-pdf": ("application/pdf", lambda: _first(m.LabelRun)),
    "animals-export": ("text/csv", lambda: {"kind": "csv"}),
    "animals-diversity-export": ("text/csv", lambda: {"kind": "lines"}),
    "animals-case": ("application/json; charset=utf-8", lambda: _animal("F-014")),
    "animals-scan": ("image/jpeg", lambda: _first(m.Paper, scan__gt="")),
    "animals-listing-picture": ("image/png", lambda: _animal("F-014")),
    "animals-picture": ("image/jpeg", lambda: _first(m.Photo)),
    "animals-sale-receipt": ("application/pdf", lambda: _sale() | {"size": "a5"}),
    "animals-sheet-draft": ("application/pdf", lambda: _animal("F-014") | {"size": "a5"}),
    "animals-signed-paper-file": ("application/json", lambda: _signed_paper()),
    "papers-proof": ("application/json", lambda: _paper()),
    "sheets-several-file": ("application/zip", lambda: _issuing() | {"size": "a5"}),
    "sheets-pdf": ("application/pdf", lambda: _first(m.Sheet) | {"size": "a4"}),
    "clutches-file": ("text/csv", dict),
    "home-archives-file": ("application/zip", dict),
    "register-contact-data": ("application/zip", lambda: _first(m.Contact)),
    "clutches-pick": ("text/html; charset=utf-8", dict),
    "alive": ("text/plain; charset=utf-8", dict),
    "ready": ("text/plain; charset=utf-8", dict),
    "home-self-offline-now": ("application/json", dict),
    "home-self-offline-ahead": ("application/json", dict),
    "offline-manifest": ("application/manifest+json", dict),
    "offline-worker": ("text/javascript", dict),
}
# Not there unless the machine's own settings ask for it.
HIDDEN = ("metrics",)
# Leads on to a page that is opened by itself.
LEADS_ON = ("animals-labels-list",)
# Pages for those who are not logged in, or for a book without its owner or its first records;
# the journey of setting up sees them with axe. To somebody logged in here they lead elsewhere.
BEFORE = ("log-in", "log-in-code", "log-in-passkey", "set-up", "begin", "home-archives-inside")
# Pages that try a write on: here they would wait for the test's own transaction without end. The
# journeys of disputes, of writing and of people see them with axe. So would a page that keeps a
# secret in the session; and the addresses of invitations and calendars are told once.
TRIED = (
    *("home-disputes-explanation", "daybook-undo", "animals-imports-outcome"),
    *("home-self-second", "home-self-passkeys-add", "invitation", "calendar"),
)
# Addresses that only take what is sent to them.
SENT: dict[str, Callable[[], Arguments]] = {
    "log-out": dict,
    "theme": dict,
    "home-accounts-switch": lambda: {"pk": 1},
    "home-backups-make": dict,
    "home-accounts-end": lambda: {"pk": 1},
    "home-accounts-invitation-take-back": lambda: {"pk": 1},
    "home-accounts-second-off": lambda: {"pk": 1},
    "home-self-end": dict,
    "home-self-passkeys-ask": dict,
    "log-in-passkey-ask": dict,
    "home-accounts-passkeys-remove": lambda: {"pk": 1},
    "daybook-withdrawn-bring-back": lambda: {"kind": "animal", "pk": 1},
    "home-disputes-surprise": lambda: {"pk": 1},
    "home-disputes-rate-reset": lambda: {"kind": "look"},
    "animals-restore": lambda: {"pk": 1},
    "animals-imports-leave-out": lambda: {"pk": 1},
    "animals-imports-write": lambda: {"pk": 1},
    "animals-prospects-take-up": lambda: {"pk": 1},
    "animals-places-written": dict,
    "animals-record-restore": lambda: {"kind": "observation", "pk": 1},
    "animals-views-new": dict,
    "animals-views-rename": lambda: {"pk": 1},
    "animals-views-remove": lambda: {"pk": 1},
    "register-lines-word-restore": lambda: {"pk": 1},
    "register-lines-report": lambda: {"one": 1, "other": 2},
    "sheets-keys-take-up": dict,
    "register-restore": lambda: {"kind": "traits", "pk": 1},
    "register-laboratory-restore": lambda: {"pk": 1},
}
NAMES = [str(getattr(pattern, "name", pattern)) for pattern in get_resolver().url_patterns]
OPENED = [
    name for name in NAMES if name not in {*PARTS, *HIDDEN, *LEADS_ON, *BEFORE, *TRIED, *SENT}
]


@dataclass(frozen=True)
class Yard:
    """The book with the example in it, being served."""

    client: Client
    server: LiveServer


@pytest.fixture(scope="module")
def yard(
    django_db_setup: None,
    django_db_blocker: "DjangoDbBlocker",
    tmp_path_factory: pytest.TempPathFactory,
    browser_name: str,  # else the tests without a browser run apart, and load all of it again
) -> Iterator[Yard]:
    """Serve the example and what it lacks, loaded once: no test here writes anything."""
    # pytest-django's own server empties the book after each test.
    from django.test import override_settings

    media = override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("media"))
    with django_db_blocker.unblock(), media:
        inference.warm_up()
        owner = AccountFactory.create(name="Mara", role="owner")
        example.load(by=owner)
        _add_what_the_example_lacks(owner)
        for cluster in explaining.clusters():
            explaining.explained(cluster)  # kept from now on: no page has to try anything on
        client = Client()
        client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
        server = LiveServer("localhost")
        try:
            yield Yard(client, server)
        finally:
            server.stop()
            call_command("flush", interactive=False, verbosity=0)


def _add_labels(owner: m.Account) -> None:
    sheet = m.LabelSheet(name="A4", page_width=210, page_height=297, across=3, down=8)
    keep_sheet(sheet=sheet, by=owner)
    row = tallies_of([m.Clutch.objects.get(code="26-01").pk])[0].row
    wanted = Wanted(
        [m.Animal.objects.get(code="F-014")],
        [m.Clutch.objects.get(code="26-08")],
        [m.Place.objects.live().order_by("pk")[0]],
        [(row, 1)],
    )
    print_labels(wanted=wanted, sheet=sheet, address="https://book.local:8443", by=owner)


def _add_what_the_example_lacks(owner: m.Account) -> None:
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), "teal").save(picture, "PNG")

    def upload() -> SimpleUploadedFile:
        return SimpleUploadedFile("dulse.png", picture.getvalue(), "image/png")

    AccountFactory.create(name="Tobin")
    stock_page.make(prices=True, by=owner)
    _add_labels(owner)
    making.make("by hand")
    dulse = m.Animal.objects.get(code="F-014")
    photos.add_photo(animal=dulse, upload=upload(), by=owner, caption="Dulse in her tub")
    paper = m.Paper.objects.order_by("pk")[0]
    sources.keep_paper(paper=paper, scan=upload(), by=owner)
    saved_views.save_view(account=owner, name="Females", query="sex=female")
    m.Passkey.objects.create(
        account=owner, name="phone", host="book.local", credential="c", public="p", handle="h"
    )
    table = b"Code,Name,Sex,Traits\nN-1,Neap,x,het Saltgrass\nN-2,Ebb,f,het Nothing\nF-014,,f,\n"
    brought = changing.begin(name="table.csv", data=table, by=owner)
    # A paper of another book, as if this one's own had come from there.
    came_with(m.Sheet.objects.exclude(key=None).order_by("pk")[0])
    species = m.Species.objects.get(name="Royal python")
    choices = Choices(species=species.pk)
    changing.pick(one=brought, picks=brought.picks, choices=choices, version=0)
    if not m.Project.objects.exclude(closed_on=None).exists():
        done = m.Project.objects.exclude(name="Saltgrass Quillwort").order_by("pk")[0]
        projects.close_project(project=done, on=date(2026, 10, 7), reason="Reached.", by=owner)


class Window:
    """A browser window in which the owner is logged in, as a phone and as a desk in turn."""

    def __init__(self, context: BrowserContext) -> None:
        self.page = context.new_page()
        self._devices = context.new_cdp_session(self.page)

    def turn_into(self, screen: str) -> None:
        """Show the page that is open as on another device.

        No script of ours asks at its start how large the screen is, or what touches it.
        """
        size = SCREENS[screen]
        is_phone = size.get("has_touch", False)
        wide, high = size["viewport"].values()
        measures = {
            **{"width": wide, "height": high, "screenWidth": wide, "screenHeight": high},
            "deviceScaleFactor": size.get("device_scale_factor", 1),
            "mobile": size.get("is_mobile", False),
        }
        self._devices.send("Emulation.setTouchEmulationEnabled", {"enabled": is_phone})
        self._devices.send("Emulation.setDeviceMetricsOverride", measures)
        seen = self.page.evaluate("[screen.width, matchMedia('(pointer: coarse)').matches]")
        assert seen == [wide, is_phone]


@pytest.fixture(scope="module")
def window(yard: Yard, browser: Browser) -> Iterator[Window]:
    """The browser's window."""
    phone = SCREENS["phone"]
    context = browser.new_context(base_url=yard.server.url, color_scheme="light", **phone)
    for name, morsel in yard.client.cookies.items():
        context.add_cookies([{"name": name, "value": morsel.value, "url": yard.server.url}])
    yield Window(context)
    context.close()


@pytest.fixture
def page(window: Window) -> Iterator[Page]:
    """The window's page, which may not report errors of ours."""
    said: list[str] = []

    def listen(message: ConsoleMessage) -> None:
        if message.type == "error":
            said.append(message.text)

    def broke(error: Any) -> None:
        said.append(str(error))

    window.page.on("console", listen)
    window.page.on("pageerror", broke)
    yield window.page
    window.page.remove_listener("console", listen)
    window.page.remove_listener("pageerror", broke)
    assert said == []


def _address(name: str, arguments: Arguments) -> str:
    query = arguments.get("query")
    path = {key: value for key, value in arguments.items() if key != "query"}
    return reverse(name, kwargs=path, query=query)


def test_every_name_is_opened_or_said_why_not() -> None:
    assert sorted(NAMES) == sorted([*PAGES, *PARTS, *HIDDEN, *LEADS_ON, *BEFORE, *TRIED, *SENT])


@pytest.mark.parametrize("name", OPENED)
def test_page_is_clean(name: str, window: Window, page: Page, axe: Axe) -> None:
    for arguments in PAGES[name]():
        answer = page.goto(_address(name, arguments))
        assert answer is not None
        assert (answer.status, answer.request.redirected_from) == (200, None)
        for screen in SCREENS:
            window.turn_into(screen)
            assert fits(page), screen
            axe()


@pytest.mark.parametrize("name", PARTS)
def test_part_is_handed_out(name: str, yard: Yard) -> None:
    kind, arguments = PARTS[name]
    answer = yard.client.get(_address(name, arguments()))
    answer.close()
    assert (answer.status_code, answer["Content-Type"]) == (200, kind)


@pytest.mark.parametrize("name", BEFORE)
def test_page_of_an_earlier_day_leads_elsewhere(name: str, yard: Yard) -> None:
    answer = yard.client.get(reverse(name))
    assert answer.status_code == 302


@pytest.mark.parametrize("name", SENT)
def test_address_that_only_takes_is_not_opened(name: str, yard: Yard) -> None:
    assert yard.client.get(_address(name, SENT[name]())).status_code == 405
