"""A copy of the book before a table is brought in and before it is taken back, by the pages."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.backups import making, shelf
from keeper.domain.backups.troubles import NotMade
from keeper.domain.book.writing import writing
from keeper.domain.imports import writes
from tests.keeper.books import Book
from tests.keeper.imports.tables import begun, picked, table, tried

_FULL = "No copy could be made: the disk is full. Make room."


@pytest.fixture(autouse=True)
def _own_data(settings: Any, tmp_path: Path) -> None:
    settings.DATA = tmp_path


@pytest.fixture
def one(owner: m.Account) -> m.Import:
    Book(owner)
    return picked(begun(owner, table("Code,Sex", "A-1,f", "A-2,m")))


@pytest.fixture
def copied(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What copies were asked for before."""
    asked: list[str] = []
    monkeypatch.setattr(making, "make", lambda why: asked.append(why))
    return asked


@pytest.fixture
def full(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(why: str) -> None:
        raise NotMade(_FULL)

    monkeypatch.setattr(making, "make", fail)


def brought_in(one: m.Import, by: m.Account) -> m.DaybookEntry:
    m.Import.objects.update(seen=tried(one).digest)
    return writes.bring_in(one=one, by=by)


@pytest.mark.django_db(transaction=True)
def test_table_is_brought_in_after_a_copy(
    one: m.Import, owner_client: Client, copied: list[str]
) -> None:
    owner_client.post(reverse("animals-imports-write", args=[one.pk]), {"version": one.version})
    assert (copied, m.Animal.objects.count()) == (["before an import"], 2)


@pytest.mark.django_db(transaction=True)
def test_table_is_brought_in_without_a_copy_where_the_owner_says_so(
    one: m.Import, owner_client: Client, full: None
) -> None:
    address = reverse("animals-imports-write", args=[one.pk])
    page = owner_client.post(address, {"version": one.version}, follow=True).content.decode()
    assert _FULL in page
    assert not m.Animal.objects.exists()
    one.refresh_from_db()
    owner_client.post(address, {"version": one.version, "without_copy": "1"})
    assert m.Animal.objects.count() == 2


@pytest.mark.django_db
def test_page_offers_to_go_on_without_once_a_copy_has_failed(
    one: m.Import, owner_client: Client
) -> None:
    address = reverse("animals-imports-one", args=[one.pk])
    assert 'name="without_copy"' not in owner_client.get(address).content.decode()
    shelf.change(lambda now: replace(now, troubles=(_FULL,)))
    page = owner_client.get(address).content.decode()
    assert 'name="without_copy"' in page
    assert _FULL in page


@pytest.mark.django_db(transaction=True)
def test_import_is_taken_back_after_a_copy(
    one: m.Import, owner: m.Account, owner_client: Client, copied: list[str]
) -> None:
    entry = brought_in(one, owner)
    owner_client.post(reverse("daybook-undo", args=[entry.pk]))
    assert copied == ["before an import is taken back"]
    assert not m.Animal.objects.live().exists()


@pytest.mark.django_db(transaction=True)
def test_import_is_taken_back_without_a_copy_where_somebody_says_so(
    one: m.Import, owner: m.Account, owner_client: Client, full: None
) -> None:
    entry = brought_in(one, owner)
    address = reverse("daybook-undo", args=[entry.pk])
    page = owner_client.post(address).content.decode()
    assert _FULL in page
    assert 'name="without_copy"' in page
    assert m.Animal.objects.live().count() == 2
    (seen,) = {part.split('"')[0] for part in page.split('name="seen" value="')[1:]}
    owner_client.post(address, {"seen": seen, "without_copy": "1"})
    assert not m.Animal.objects.live().exists()


@pytest.mark.django_db(transaction=True)
def test_entry_that_drags_an_import_along_is_taken_back_after_a_copy(
    one: m.Import, owner: m.Account, owner_client: Client, copied: list[str]
) -> None:
    made = owner_client.post(reverse("daybook-undo", args=[_species_entry(one, owner).pk]))
    page = made.content.decode()
    assert copied == []  # it was only looked at
    (seen,) = {part.split('"')[0] for part in page.split('name="seen" value="')[1:]}
    owner_client.post(made.request["PATH_INFO"], {"seen": seen})
    assert copied == ["before an import is taken back"]
    assert not m.Animal.objects.live().exists()


def _species_entry(one: m.Import, by: m.Account) -> m.DaybookEntry:
    """The entry that made the species of a table which was then brought in."""
    with writing(by=by, what="Added a species") as book:
        species = book.keep(m.Species(name="of the table", sex_determination="XY"))
    one = picked(one, species=species.pk)
    brought_in(one, by)
    return book.entry
