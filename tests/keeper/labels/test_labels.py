"""Labels: what their codes hold, where they lead, tubs of hatchlings, a changed address."""

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any
from uuid import UUID

import pypdfium2
import pytest
import zxingcpp
from django.core.exceptions import ValidationError
from django.db import transaction
from django.test import Client, override_settings
from django.urls import reverse

from keeper import models as m
from keeper.domain.book.refusing import Refused
from keeper.domain.book.undoing import undo
from keeper.domain.labels import queries as reads
from keeper.domain.labels.addresses import offered, subject_of
from keeper.domain.labels.content import content_of
from keeper.domain.labels.writes import Wanted, keep_sheet, print_labels
from keeper.paper.typesetting import typeset_labels
from tests.factories import PASSWORD, AccountFactory, AnimalFactory
from tests.keeper.books import Book

if TYPE_CHECKING:
    from pytest_django import DjangoDbBlocker

pytestmark = pytest.mark.django_db
BOOK = "https://book.local:8443"


@pytest.fixture(scope="module")
def told(django_db_setup: None, django_db_blocker: "DjangoDbBlocker") -> Iterator[dict[str, Any]]:
    """A clutch of which five hatched and one has a record; a rack; labels of all of these."""
    with django_db_blocker.unblock(), transaction.atomic():
        owner = AccountFactory.create(name="Mara", role="owner")
        book = Book(owner)
        dam, sire = book.founder("F-1", "female"), book.founder("M-1", "male")
        clutch = book.clutch("C-1", dam, sire, normal=5)
        rack = m.Place.objects.create(name="Rack 7", kind="rack")
        m.Place.objects.create(name="Rack 7 · 1", within=rack, holds=1)
        row = clutch.hatch_rows.get()
        young = AnimalFactory.create(
            species=book.species,
            code="C-1-01",
            clutch=clutch,
            hatch_row=row,
            hatched_on=date.today(),
        )
        sheet = m.LabelSheet(name="A4", page_width=210, page_height=297, across=3, down=8)
        keep_sheet(sheet=sheet, by=owner)
        wanted = Wanted([dam, young], [clutch], [rack], [(row, 3)])
        run, _ = print_labels(wanted=wanted, sheet=sheet, address=BOOK, first=23, by=owner)
        yield {**locals()}
        transaction.set_rollback(True)


def scanned(made: bytes) -> list[list[str]]:
    """What a phone reads of each page."""
    with pypdfium2.PdfDocument(made) as pages:
        pictures = [page.render(scale=200 / 72).to_pil() for page in pages]
    return [sorted(one.text for one in zxingcpp.read_barcodes(each)) for each in pictures]


def test_a_printed_code_holds_the_address_of_the_book_and_of_its_record_alone(
    told: dict[str, Any],
) -> None:
    run = told["run"]
    pages = scanned(typeset_labels(content_of(run)))
    marks = [told[one].identity.hex[:12] for one in ("dam", "young", "clutch", "rack")]
    kinds = [f"{BOOK}/at/{kind}/{mark}/" for kind, mark in zip("aacp", marks, strict=True)]
    tubs = [f"{kinds[2]}{number}/" for number in (1, 2, 3)]
    # From label 23 of 24 on: two on the first page, the others on the next.
    assert pages == [sorted(kinds[:2]), sorted([*kinds[2:], *tubs])]
    assert [len(page) for page in scanned(typeset_labels(content_of(run, first=1)))] == [7]


def test_each_code_leads_to_its_record_and_asks_to_log_in_first(
    told: dict[str, Any], client: Client
) -> None:
    m.LogIn.objects.all().delete()
    link = content_of(told["run"])["labels"][0]["link"].removeprefix(BOOK)
    first = client.get(link)
    assert (first.status_code, first["Location"]) == (302, f"/log-in/?next={link}")
    form = {"username": "Mara", "password": PASSWORD, "next": link}
    landed = client.post(first["Location"], form, follow=True)
    assert landed.redirect_chain[-1][0] == link
    page = landed.content.decode()
    assert "<h1>F-1</h1>" in re.sub(r"<h1[^>]*>\s*", "<h1>", page).replace(" </h1>", "</h1>")
    assert reverse("animals-husbandry-new", args=[told["dam"].pk, "weight"]) in page
    tub = client.get(content_of(told["run"])["labels"][4]["link"].removeprefix(BOOK))
    assert reverse("clutches-record", args=[told["row"].pk]) in tub.content.decode()
    none = client.get("/at/a/000000000000/")
    assert none.status_code == 404
    assert "print it anew" in none.content.decode()


def test_a_viewer_scans_and_prints_nothing(told: dict[str, Any], client: Client) -> None:
    client.force_login(AccountFactory.create(role="viewer"))
    page = client.get(f"/at/a/{told['dam'].identity.hex[:12]}/")
    assert page.status_code == 200
    assert "animals-husbandry-new" not in page.content.decode()
    assert client.get(reverse("animals-labels-run", args=[told["run"].pk])).status_code == 200
    assert client.post(reverse("animals-labels-new"), {}).status_code == 403


def test_a_tub_is_numbered_once_even_where_its_label_was_taken_back(told: dict[str, Any]) -> None:
    row, sheet, owner = told["row"], told["sheet"], told["owner"]
    with transaction.atomic():
        (tally,) = reads.tallies_of([told["clutch"].pk])
        assert (tally.left, tally.given, tally.without) == (4, 3, 1)
        run, entry = print_labels(
            wanted=Wanted(tubs=[(row, 1)]), sheet=sheet, address=BOOK, by=owner
        )
        undo(entry=entry, by=owner)
        again, _ = print_labels(wanted=Wanted(tubs=[(row, 1)]), sheet=sheet, address=BOOK, by=owner)
        assert [one.tub for one in (*run.labels.all(), *again.labels.all())] == [4, 5]
        with pytest.raises(Refused, match="4 hatchlings have no record; 5 labels"):
            print_labels(wanted=Wanted(tubs=[(row, 5)]), sheet=sheet, address=BOOK, by=owner)
        transaction.set_rollback(True)


def test_labels_for_an_address_that_is_gone_are_told_until_they_are_printed_anew(
    told: dict[str, Any], client: Client
) -> None:
    client.force_login(told["owner"])
    page = client.get(reverse("animals-labels")).content.decode()
    assert f"7 labels lead to {BOOK}" in re.sub(r"\s+", " ", page)
    run = client.get(reverse("animals-labels-run", args=[told["run"].pk])).content.decode()
    assert f"lead to {BOOK} for good" in run
    with transaction.atomic():
        wanted = Wanted([told["dam"], told["young"]])
        here = offered("http://testserver")[0]
        print_labels(wanted=wanted, sheet=told["sheet"], address=here, by=told["owner"])
        assert [(one.address, one.labels) for one in reads.leading_elsewhere([here])] == [(BOOK, 5)]
        transaction.set_rollback(True)
    assert reads.leading_elsewhere([BOOK]) == []


def test_the_list_of_animals_leads_to_labels_of_all_that_it_shows(
    told: dict[str, Any], client: Client
) -> None:
    client.force_login(told["owner"])
    leads = client.get(reverse("animals-labels-list"), {"q": "F-1"})
    assert leads["Location"] == f"{reverse('animals-labels-new')}?animal={told['dam'].pk}"
    page = client.get(leads["Location"]).content.decode()
    assert page.count('name="subjects"') == 1


def test_names_are_offered_before_numbers_and_this_machine_alone_last() -> None:
    hosts = ["localhost", "127.0.0.1", "192.168.1.7", "yard.local"]
    with override_settings(ALLOWED_HOSTS=hosts, LAN_NAMES=["yard.local"]):
        assert offered("https://192.168.1.7:8443") == ["https://yard.local:8443"]
    with override_settings(ALLOWED_HOSTS=hosts[:2], LAN_NAMES=[]):
        assert offered("http://127.0.0.1:8000") == ["http://127.0.0.1:8000"]


def test_a_mark_that_two_records_share_names_neither(told: dict[str, Any]) -> None:
    mark = told["dam"].identity.hex[:12]
    twin = UUID(int=told["dam"].identity.int ^ 1)
    with transaction.atomic():
        AnimalFactory.create(species=told["book"].species, identity=twin)
        assert subject_of("a", mark) is None
        transaction.set_rollback(True)
    assert subject_of("a", mark) == told["dam"]
    assert subject_of("a", "Z" * 12) is subject_of("x", mark) is None


def test_measures_that_leave_no_readable_label_are_refused() -> None:
    sheet = m.LabelSheet(name="small", page_width=210, page_height=297, across=3, down=20)
    sheet.gap_down = Decimal("5.5")
    with pytest.raises(ValidationError, match=r"70\.0 × 9\.6 mm"):
        sheet.clean()
