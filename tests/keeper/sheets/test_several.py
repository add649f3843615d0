"""Sheets of several animals: read together, issued in one entry or not at all, in one file."""

import re
from io import BytesIO
from zipfile import ZipFile

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.book.writing import Refused, writing
from keeper.domain.sheets import signing
from keeper.domain.sheets.queries import issued_in
from keeper.domain.sheets.writes import issue_several
from tests.factories import AccountFactory, ContactFactory
from tests.keeper.books import Book
from tests.keeper.sheets.rows import text_of_pdf

pytestmark = pytest.mark.django_db


@pytest.fixture
def animals(owner: m.Account) -> list[m.Animal]:
    book = Book(owner)
    return [book.founder(f"F-{n}", "female", "carries") for n in range(1, 4)]


def asked(animals: list[m.Animal]) -> str:
    return "&".join(f"animal={one.pk}" for one in animals)


def form_of(page: str) -> dict[str, list[str]]:
    """What a form sends as it stands."""
    found: dict[str, list[str]] = {}
    for name, value in re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page):
        found.setdefault(name, []).append(value)
    return found


def test_read_together_issued_together(owner_client: Client, animals: list[m.Animal]) -> None:
    buyer = ContactFactory.create(name="Wenna Kest")
    address = reverse("sheets-new")
    page = owner_client.get(f"{address}?{asked(animals)}").content.decode()
    assert "Sale sheets of 3 animals" in page and page.count("Saltgrass HAR: ") == 3
    typed = form_of(page) | {"buyer": [str(buyer.pk)]}
    answer = owner_client.post(address, typed)
    sheets = list(m.Sheet.objects.order_by("number"))
    assert [one.animal.code for one in sheets] == ["F-1", "F-2", "F-3"]
    assert {one.buyer for one in sheets} == {buyer}
    assert all(signing.check(one) == signing.Verdict.HOLDS for one in sheets)
    entry = m.DaybookEntry.objects.latest("pk")
    assert entry.what == "Issued 3 sale sheets for Wenna Kest"
    assert answer["Location"].startswith(reverse("sheets-several", args=[entry.pk]))
    # The same once more, as by a double tap, leads there again and writes nothing.
    again = owner_client.post(address, typed)
    assert (again.status_code, m.Sheet.objects.count()) == (302, 3)


def test_one_file_holds_all_but_the_withdrawn(
    owner_client: Client, owner: m.Account, animals: list[m.Animal]
) -> None:
    sheets, entry = issue_several(animals=animals, by=owner)
    assert list(issued_in(entry)) == sheets
    with writing(by=owner, what="Took one back") as book:
        book.withdraw(sheets[1], reason="wrong buyer")
    page = owner_client.get(reverse("sheets-several", args=[entry.pk])).content.decode()
    assert "wrong buyer; not in the file" in page
    answer = owner_client.get(reverse("sheets-several-file", args=[entry.pk, "a5"]))
    assert answer["Content-Type"] == "application/zip"
    with ZipFile(BytesIO(answer.content)) as file:
        assert file.namelist() == [f"sheet-{sheets[n].numbered}-a5.pdf" for n in (0, 2)]
        for name, code in zip(file.namelist(), ("F-1", "F-3"), strict=True):
            pages, text = text_of_pdf(file.read(name))
            assert pages == 1 and code in text


def test_none_is_issued_where_one_cannot_be(owner: m.Account, animals: list[m.Animal]) -> None:
    with writing(by=owner, what="Entered twice") as book:
        book.withdraw(animals[2], reason="entered twice")
    with pytest.raises(Refused, match="The record of F-3 was withdrawn"):
        issue_several(animals=animals, by=owner)
    assert not m.Sheet.objects.exists()


def test_what_changed_since_it_was_read_is_read_again(
    owner_client: Client, owner: m.Account, animals: list[m.Animal]
) -> None:
    address = reverse("sheets-new")
    page = owner_client.get(f"{address}?{asked(animals)}").content.decode()
    with writing(by=owner, what="Named") as book:
        animals[1].name = "Nettle"
        book.keep(animals[1])
    answer = owner_client.post(address, form_of(page)).content.decode()
    assert "The book has changed since you read this" in answer and "Nettle" in answer
    assert not m.Sheet.objects.exists()
    owner_client.post(address, form_of(answer))
    assert m.Sheet.objects.count() == 3


def test_nothing_ticked_or_too_many(owner_client: Client, animals: list[m.Animal]) -> None:
    address = reverse("sheets-new")
    for query in ("", "?animal=0&animal=x&animal=" + "9" * 40):
        said = owner_client.get(f"{address}{query}", follow=True).content.decode()
        assert "Tick the animals that you want sheets of first" in said
    many = "&".join(f"animal={n}" for n in range(51))
    said = owner_client.get(f"{address}?{many}", follow=True).content.decode()
    assert "More than 50 sheets are not issued at once" in said


def test_an_entry_without_sheets_has_no_page_of_them(
    owner_client: Client, owner: m.Account
) -> None:
    Book(owner).founder("F-1", "female")
    entry = m.DaybookEntry.objects.latest("pk")
    assert owner_client.get(reverse("sheets-several", args=[entry.pk])).status_code == 404


def test_they_are_for_whoever_sees_buyers(client: Client, animals: list[m.Animal]) -> None:
    client.force_login(AccountFactory.create(role="helper", sees_people=False))
    assert client.get(f"{reverse('sheets-new')}?{asked(animals)}").status_code == 403
