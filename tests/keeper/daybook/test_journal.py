"""The journal: what narrows it, its file, and withdrawn records brought back."""

import csv
import io
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.accounts.writes import add_helper
from keeper.domain.animals.writes import Arrival, add_animal
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.daybook import withdrawn as gone
from keeper.domain.register.withdrawing import withdraw
from tests.factories import AnimalFactory, ContactFactory, LineFactory, SpeciesFactory
from tests.keeper.books import Book
from tests.keeper.counting import queries_of
from tests.keeper.world import kinds as every_kind

pytestmark = pytest.mark.django_db


def added(by: m.Account, code: str, species: m.Species) -> m.DaybookEntry:
    return add_animal(arrival=Arrival(m.Animal(species=species, code=code)), by=by)


def listed(client: Client, **asked: Any) -> list[str]:
    page = client.get(reverse("daybook"), asked).context["page"]
    return [entry.what for entry in page.object_list]


@pytest.fixture
def book(owner: m.Account) -> Book:
    """A founder that carries a line: entries that move figures, and entries that do not."""
    made = Book(owner)
    made.founder("F-1", "female", "carries")
    return made


def test_it_is_narrowed_by_what_it_is_about(
    owner_client: Client, owner: m.Account, book: Book
) -> None:
    add_helper(name="Eda", password="three dry stones", by=owner)
    contact = ContactFactory.create(name="Ansel")
    withdraw(record=contact, by=owner, reason="twice")
    assert listed(owner_client, about="accounts") == ["Gave Eda an account"]
    assert listed(owner_client, about="people") == ["Withdrew the contact Ansel"]
    assert listed(owner_client, about="sheets") == []
    assert len(listed(owner_client, about="animals")) == 1
    assert len(listed(owner_client, about="nonsense")) == len(listed(owner_client))


def test_every_kind_of_record_is_about_something() -> None:
    from keeper.domain.book.daybook import KINDS

    named = [name for _, kinds in KINDS.values() for name in kinds]
    assert sorted(named) == sorted(one.__name__ for one in every_kind())


def test_it_is_narrowed_to_what_moved_and_to_what_was_taken_back(
    owner_client: Client, owner: m.Account, book: Book
) -> None:
    plain = added(owner, "F-2", book.species)
    assert plain.what not in listed(owner_client, only="moved")
    assert len(listed(owner_client, only="moved")) == 1
    assert listed(owner_client, only="back") == []
    back = undo(entry=plain, by=owner)
    assert listed(owner_client, only="back") == [plain.what]
    undo(entry=back, by=owner)
    assert listed(owner_client, only="back") == [back.what]


def test_it_is_narrowed_by_words_and_days(
    owner_client: Client, helper_client: Client, owner: m.Account, book: Book
) -> None:
    with writing(by=owner, what="Weighed", reason="after Shedding") as entry:
        entry.keep(m.Contact(name="Ansel"))
    assert listed(owner_client, q="shedding") == ["Weighed"]
    m.DaybookEntry.objects.filter(what="Weighed").update(at="2024-05-04T23:59Z")
    assert listed(owner_client, until="2024-05-04") == ["Weighed"]
    assert "Weighed" not in listed(owner_client, since="2024-05-05")
    assert listed(owner_client, until="no day", q="shedding") == ["Weighed"]
    # Whoever may not see names may not search for them either.
    assert "q" not in helper_client.get(reverse("daybook")).context["form"].fields
    assert len(listed(helper_client, q="Ansel")) == len(listed(helper_client))


def test_its_file_holds_what_is_listed(
    owner_client: Client, helper_client: Client, owner: m.Account, book: Book
) -> None:
    with writing(by=owner, what="Bought from Ansel", reason="=1+1") as entry:
        entry.keep(m.Contact(name="Ansel"))

    def file(client: Client) -> list[list[str]]:
        answer = client.get(reverse("daybook"), {"about": "people", "file": "csv"})
        return list(csv.reader(io.StringIO(answer.getvalue().decode("utf-8-sig"))))

    whole = file(owner_client)
    assert [row[1:4] for row in whole[1:]] == [["Mara", "Bought from Ansel", "'=1+1"]]
    assert [row[2] for row in file(helper_client)[1:]] == ["Bought from a contact"]


def test_filters_cost_the_same_with_one_and_with_three_entries(
    owner_client: Client, owner: m.Account, book: Book
) -> None:
    def asking() -> Any:
        sent = {"about": "animals", "only": "moved", "q": "f", "since": "2020-01-01"}
        return owner_client.get(reverse("daybook"), sent)

    asking()
    one = queries_of(asking)
    book.founder("F-2", "female", "carries")
    book.founder("F-3", "female", "carries")
    assert queries_of(asking) == one


# ---- withdrawn ---------------------------------------------------------------------------------


def shown(client: Client, **asked: str) -> list[str]:
    rows = client.get(reverse("daybook-withdrawn"), asked).context["rows"]
    return [f"{row.gone.named} {row.link.text}: {row.gone.why}" for row in rows]


def test_withdrawn_records_are_listed_by_kind_with_the_reason_and_brought_back(
    owner_client: Client, owner: m.Account
) -> None:
    species = SpeciesFactory.create()
    animal = AnimalFactory.create(species=species, code="F-9")
    withdraw(record=ContactFactory.create(name="Ansel"), by=owner, reason="entered twice")
    with writing(by=owner, what="Withdrew F-9", reason="typed wrong") as book:
        book.withdraw(animal, reason="typed wrong")
    whole = ["animal F-9: typed wrong", "contact Ansel: entered twice"]
    assert shown(owner_client) == whole
    assert shown(owner_client, kind="contact") == whole[1:]
    assert shown(owner_client, kind="nonsense") == whole
    page = owner_client.get(reverse("daybook-withdrawn"))
    assert page.context["rows"][0].gone.by_entry == m.DaybookEntry.objects.get(what="Withdrew F-9")
    back = reverse("daybook-withdrawn-bring-back", args=["animal", animal.pk])
    answer = owner_client.post(back, follow=True)
    assert "Restored: F-9" in answer.content.decode()
    assert not m.Animal.objects.get().is_withdrawn
    assert owner_client.post(back).status_code == 404


def test_a_code_that_was_taken_meanwhile_is_refused_in_words(
    owner_client: Client, owner: m.Account
) -> None:
    animal = AnimalFactory.create(code="F-9")
    with writing(by=owner, what="Withdrew F-9") as book:
        book.withdraw(animal, reason="typed wrong")
    AnimalFactory.create(code="F-9")
    back = reverse("daybook-withdrawn-bring-back", args=["animal", animal.pk])
    page = owner_client.post(back, follow=True).content.decode()
    assert "This code is in use already. Choose another." in page
    assert m.Animal.objects.get(pk=animal.pk).is_withdrawn


def test_a_trait_comes_back_with_its_lines(owner: m.Account) -> None:
    line = LineFactory.create()
    LineFactory.create(trait=line.trait)
    withdraw(record=line.trait, by=owner, reason="twice")
    assert m.Line.objects.live().count() == 0
    gone.bring_back(record=m.Trait.objects.get(), by=owner)
    assert (m.Trait.objects.live().count(), m.Line.objects.live().count()) == (1, 2)


def test_what_has_no_page_comes_back_with_what_went_with_it(owner: m.Account, book: Book) -> None:
    dam, sire = m.Animal.objects.get(), book.founder("M-1", "male")
    clutch = book.clutch("C-1", dam, sire, normal=2)
    row = m.HatchRow.objects.get()
    with writing(by=owner, what="Withdrew a clutch") as entry:
        for one in (*m.RowSighting.objects.live(), row, *m.CandidateSire.objects.all(), clutch):
            entry.withdraw(one, reason="none")
    gone.bring_back(record=m.CandidateSire.objects.get(), by=owner)
    kinds = (m.Clutch, m.HatchRow, m.CandidateSire)
    assert [kind._default_manager.filter(withdrawn_at=None).count() for kind in kinds] == [1, 1, 1]


def test_a_sheet_stays_withdrawn(owner: m.Account) -> None:
    sheet = m.Sheet(number=1, code="X", withdrawn_at="2026-06-01T12:00Z")
    with pytest.raises(Refused):
        gone.bring_back(record=sheet, by=owner)


def test_a_helper_brings_back_and_sees_no_people(
    helper_client: Client, owner: m.Account, helper: m.Account
) -> None:
    contact = ContactFactory.create(name="Ansel")
    withdraw(record=contact, by=owner, reason="entered twice")
    animal = AnimalFactory.create(code="F-9")
    with writing(by=owner, what="Withdrew F-9") as book:
        book.withdraw(animal, reason="sold by Ansel")
    assert shown(helper_client) == ["animal F-9: sold by a contact"]
    kept = reverse("daybook-withdrawn-bring-back", args=["contact", contact.pk])
    assert helper_client.post(kept).status_code == 404
    helper_client.post(reverse("daybook-withdrawn-bring-back", args=["animal", animal.pk]))
    assert m.DaybookEntry.objects.latest("pk").by == helper


def test_withdrawn_costs_the_same_with_one_and_with_three(
    owner_client: Client, owner: m.Account
) -> None:
    def gone_one() -> None:
        animal = AnimalFactory.create(hatched_on=date(2024, 5, 1))
        with writing(by=owner, what="Withdrew") as book:
            book.withdraw(animal, reason="none")

    gone_one()
    one = queries_of(lambda: owner_client.get(reverse("daybook-withdrawn")))
    gone_one()
    gone_one()
    assert queries_of(lambda: owner_client.get(reverse("daybook-withdrawn"))) == one
