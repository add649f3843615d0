"""A change of the register that moves numbers is shown before it is kept."""

from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.register.withdrawing import withdraw
from tests.factories import ContactFactory, LineFactory
from tests.keeper.books import Book
from tests.keeper.counting import queries_of
from tests.keeper.sent import seen_in


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def text(answer: Any) -> str:
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def said_by(owner: m.Account, book: Book, contact: m.Contact) -> m.Animal:
    """A founder that carries on a contact's word, and the sheet issued for it."""
    animal = book.founder("F-014", "female", "carries")
    statement = m.Statement.objects.get()
    statement.source = contact
    with writing(by=owner, what="Said by whom") as entry:
        entry.keep(statement)
    m.Sheet.objects.create(
        number=7, code="ABCD", animal=animal, buyer=ContactFactory.create(name="Ferrin Low"),
        by=owner, content={},
    )  # fmt: skip
    return animal


def test_what_it_moves_is_shown_and_kept_only_when_confirmed(
    owner_client: Client, owner: m.Account, book: Book
) -> None:
    contact = ContactFactory.create(name="Odile Brand")
    animal = said_by(owner, book, contact)
    before = m.DaybookEntry.objects.count()
    address = f"/register/contacts/{contact.pk}/edit/"
    sent = {"name": "Odile Brand", "reliability": "50 %", "reason": "was wrong twice"}
    page = text(owner_client.post(address, sent))
    assert "It moves 1 figure of 1 animal" in page
    assert "F-014</a> Saltgrass" in page
    assert "Sheet 7</a> on F-014" in page
    assert "to Ferrin Low" in page
    assert 'value="50 %"' in page
    assert 'value="was wrong twice"' in page
    assert book.said(animal) == ("stated", "100 %")
    assert m.DaybookEntry.objects.count() == before

    answer = owner_client.post(address, sent | {"seen": seen_in(page)})
    assert answer.status_code == 302
    assert book.said(animal) == ("stated", "50 %")
    assert m.Contact.objects.get(pk=contact.pk).reliability == m.read_chance("50 %")


def test_what_was_changed_after_it_was_shown_is_shown_anew(
    owner_client: Client, owner: m.Account, book: Book
) -> None:
    contact = ContactFactory.create(name="Odile Brand")
    said_by(owner, book, contact)
    address = f"/register/contacts/{contact.pk}/edit/"
    sent = {"name": "Odile Brand", "reliability": "50 %", "reason": ""}
    first = seen_in(text(owner_client.post(address, sent)))
    other = sent | {"reliability": "20 %", "seen": first}
    page = text(owner_client.post(address, other))
    # And as any animal may have it besides: 1/5 + 4/5 · 0.0199.
    assert "21 %</strong>" in page
    assert seen_in(page) != first
    assert m.Contact.objects.get(pk=contact.pk).reliability == 1


def test_what_moves_nothing_is_saved_at_once(owner_client: Client, book: Book) -> None:
    book.founder("F-014", "female", "carries")
    address = f"/register/lines/{book.line.pk}/edit/"
    sent = {"code": "HAR", "name": "Harvesk of old", "background": "0 %", "reason": ""}
    assert owner_client.post(address, sent).status_code == 302
    assert m.Line.objects.get().name == "Harvesk of old"


def test_a_dispute_that_it_would_open_is_told(
    owner_client: Client, owner: m.Account, book: Book
) -> None:
    # Two visuals give normal young only if they are of two genes.
    other = LineFactory.create(trait=book.trait, code="PEL", locus__species=book.species)
    dam = book.founder("F1", "female", "visual")
    sire = book.founder("M1", "male", "visual", line=other)
    book.clutch("C1", dam, sire, normal=4)
    address = f"/register/lines/{other.pk}/place/"
    sent = {"place": str(book.line.locus_id), "chromosome": "autosome", "reason": ""}
    page = text(owner_client.post(address, sent))
    assert "It opens 1 dispute" in page
    assert m.Dispute.objects.count() == 0
    assert m.Line.objects.get(code="PEL").locus == other.locus

    owner_client.post(address, sent | {"seen": seen_in(page)})
    assert m.Dispute.objects.filter(closed=None).count() == 1
    back = {"place": "own", "chromosome": "autosome", "reason": ""}
    page = text(owner_client.post(address, back))
    assert "It closes 1 dispute" in page
    assert m.Dispute.objects.filter(closed=None).count() == 1


def test_withdrawing_and_restoring_are_shown_first(
    owner_client: Client, owner: m.Account, book: Book
) -> None:
    # Of two carriers' young 3/4 carry; where those with two copies do not hatch, 2/3 do.
    dam = book.founder("F1", "female", "carries")
    sire = book.founder("M1", "male", "carries")
    young = book.young("K1", book.clutch("C1", dam, sire), seen=None)
    with writing(by=owner, what="Lethal") as entry:
        row = entry.keep(
            m.Survival(locus=book.line.locus, one=book.line, other=book.line, survival="0")
        )
    assert book.said(young) == ("possible", "66 %")
    address = f"/register/survivals/{row.pk}/withdraw/"
    page = text(owner_client.post(address, {"reason": "a slip"}))
    assert "It moves 1 figure of 1 animal" in page
    assert not m.Survival.objects.get().is_withdrawn
    sent = {"reason": "a slip", "seen": seen_in(page)}
    assert owner_client.post(address, sent).status_code == 302
    assert book.said(young) == ("possible", "75 %")

    address = f"/register/survivals/{row.pk}/restore/"
    page = text(owner_client.post(address))
    assert "Restore the survival of Saltgrass HAR / Saltgrass HAR?" in page
    assert m.Survival.objects.get().is_withdrawn
    answer = owner_client.post(address, {"seen": seen_in(page)})
    assert answer.status_code == 302
    assert book.said(young) == ("possible", "66 %")


def test_restoring_what_moves_nothing_needs_no_second_word(
    owner_client: Client, owner: m.Account
) -> None:
    contact = ContactFactory.create()
    withdraw(record=contact, by=owner, reason="a slip")
    owner_client.post(f"/register/contacts/{contact.pk}/restore/")
    assert not m.Contact.objects.get().is_withdrawn


def test_what_is_shown_first_asks_the_database_nothing_more(
    owner_client: Client, owner: m.Account, book: Book
) -> None:
    contact = ContactFactory.create(name="Odile Brand")
    said_by(owner, book, contact)
    sent = {"name": "Odile Brand", "reliability": "50 %", "reason": ""}
    page = owner_client.post(f"/register/contacts/{contact.pk}/edit/", sent)
    preview = page.context["page"].preview
    assert (
        queries_of(lambda: render_to_string("components/outcome.html", {"preview": preview})) == 0
    )
