"""Issuing: read first, numbered without gaps, frozen, taken back with a reason."""

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import connection
from django.db.models import ProtectedError
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused
from keeper.domain.sheets import writes as domain
from keeper.models import Account, Animal, DaybookEntry, Line, Sheet, Standing
from tests.factories import AccountFactory, AnimalFactory, ContactFactory, LineFactory, TraitFactory
from tests.keeper.sheets.rows import dispute_of, stand, text_of_pdf


@pytest.fixture
def animal(db: None) -> Animal:
    made: Animal = AnimalFactory.create(code="K-1", species__name="royal python")
    return made


@pytest.fixture
def saltgrass(animal: Animal) -> Line:
    trait = TraitFactory.create(species=animal.species, name="Saltgrass")
    made: Line = LineFactory.create(trait=trait, code="HAR")
    return made


def text_of(page: Any) -> str:
    return " ".join(page.content.decode().split())


def mark_of(client: Client, animal: Animal) -> str:
    return str(client.get(f"/animals/{animal.pk}/sheet/").context["page"].mark)


def test_numbers_have_no_gaps(animal: Animal, owner: Account) -> None:
    first, _ = domain.issue(animal=animal, by=owner)
    second, entry = domain.issue(animal=animal, by=owner)
    with pytest.raises(Refused) as error:
        undo(entry=entry, by=owner)
    assert str(error.value).startswith("A sheet that was issued is in somebody's hands")
    domain.withdraw(sheet=second, reason="a slip", by=owner)
    third, _ = domain.issue(animal=animal, by=owner)
    assert [first.number, second.number, third.number] == [1, 2, 3]


def test_a_sheet_that_fails_takes_no_number(
    animal: Animal, owner: Account, monkeypatch: pytest.MonkeyPatch
) -> None:
    domain.issue(animal=animal, by=owner)

    def fail(*_: Any, **__: Any) -> dict[str, Any]:
        raise Refused("not now")

    with monkeypatch.context() as patch:
        patch.setattr(domain, "draft", fail)
        with pytest.raises(Refused):
            domain.issue(animal=animal, by=owner)
    sheet, _ = domain.issue(animal=animal, by=owner)
    assert (sheet.number, Sheet.objects.count()) == (2, 2)


@pytest.mark.sockets  # the other database is reached over one
@pytest.mark.django_db(transaction=True)
def test_sheets_issued_at_the_same_moment_have_numbers_without_gaps() -> None:
    animal, by = AnimalFactory.create(), AccountFactory.create()

    def issue(_: int) -> int:
        try:
            return domain.issue(animal=animal, by=by)[0].number
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as hands:
        numbers = list(hands.map(issue, range(12)))
    assert sorted(numbers) == list(range(1, 13))


def test_the_code_has_eight_characters_that_are_not_mistaken(
    animal: Animal, owner: Account
) -> None:
    codes = [domain.issue(animal=animal, by=owner)[0].code for _ in range(5)]
    assert len(set(codes)) == 5
    assert all(len(code) == 8 and not set(code) & set("01OIL") for code in codes)


def test_issue_freezes_number_code_and_buyer(animal: Animal, owner: Account) -> None:
    buyer = ContactFactory.create(name="Ansel")
    sheet, entry = domain.issue(animal=animal, by=owner, buyer=buyer)
    sheet.refresh_from_db()
    content = sheet.content
    assert (content["number"], content["numbered"]) == (1, "Sale sheet no. 1")
    assert content["code"] == f"{sheet.code[:4]}-{sheet.code[4:]}"
    assert (content["title"], content["buyer"]) == ("Sale sheet 1: K-1", "Ansel")
    assert (entry.what, entry.subject_id) == ("Issued a sale sheet of K-1 for Ansel", animal.pk)


def test_an_issued_sheet_does_not_change_with_the_book(
    owner_client: Client, animal: Animal, saltgrass: Line, owner: Account
) -> None:
    stand(animal, saltgrass, owner, one=0.66)
    sheet, _ = domain.issue(animal=animal, by=owner)
    before = owner_client.get(f"/sheets/{sheet.pk}/a5.pdf").content
    Standing.objects.update(one=1, none=0, word="proven")
    animal.name, saltgrass.trait.name = "Renamed", "Also renamed"
    animal.save()
    saltgrass.trait.save()
    owner.name = "Other"
    owner.save()
    assert owner_client.get(f"/sheets/{sheet.pk}/a5.pdf").content == before
    page = text_of(owner_client.get(f"/sheets/{sheet.pk}/"))
    assert "possible het 66 %" in page
    assert "Renamed" not in page.partition('<article class="sale-sheet"')[2]


def test_sheet_tells_what_it_would_say_otherwise_today(
    owner_client: Client, animal: Animal, saltgrass: Line, owner: Account
) -> None:
    stand(animal, saltgrass, owner, one=1 / 3)
    sheet, _ = domain.issue(animal=animal, by=owner)
    address = f"/sheets/{sheet.pk}/"
    assert "The book says otherwise today" not in text_of(owner_client.get(address))
    Standing.objects.filter(animal=animal).update(one=0.5, none=0.5)
    shown = owner_client.get(address)
    assert [(one.name, one.then, one.now) for one in shown.context["otherwise"]] == [
        ("Saltgrass", "HAR: possible het 33 %", "HAR: possible het 50 %")
    ]
    assert "The book says otherwise today" in text_of(shown)
    assert "possible het 33 %" in text_of(shown).partition('<article class="sale-sheet"')[2]
    domain.withdraw(sheet=sheet, reason="Not sold.", by=owner)
    assert "The book says otherwise today" not in text_of(owner_client.get(address))


def test_preview_says_exactly_what_the_sheet_will_say(
    owner_client: Client, animal: Animal, saltgrass: Line, owner: Account
) -> None:
    stand(animal, saltgrass, owner, one=0.4899, customary=2 / 3)
    text = text_of(owner_client.get(f"/animals/{animal.pk}/sheet/"))
    assert "possible het 48 %" in text
    assert "by its source alone" not in text
    draft = owner_client.get(f"/animals/{animal.pk}/sheet/draft-a5.pdf")
    assert "Sale sheet, not issued" in text_of_pdf(draft.content)[1]
    answer = owner_client.post(
        f"/animals/{animal.pk}/sheet/", {"mark": mark_of(owner_client, animal)}
    )
    sheet, entry = Sheet.objects.get(), DaybookEntry.objects.first()
    assert entry
    assert answer["Location"] == f"/sheets/{sheet.pk}/?moved={entry.pk}"
    assert sheet.content["claims"] == domain.draft(animal, by=owner)["claims"]


def test_what_is_left_out_is_said_before_issuing(
    owner_client: Client, animal: Animal, saltgrass: Line, owner: Account
) -> None:
    stand(animal, saltgrass, owner, two=1, word="visual", dispute=dispute_of(animal, owner))
    text = text_of(owner_client.get(f"/animals/{animal.pk}/sheet/"))
    assert "<strong>Left out:</strong> Saltgrass." in text


def test_a_book_that_moved_since_the_preview_is_read_again(
    owner_client: Client, animal: Animal, saltgrass: Line, owner: Account
) -> None:
    stand(animal, saltgrass, owner, one=0.66)
    mark = mark_of(owner_client, animal)
    Standing.objects.update(one=0.5, none=0.5)
    buyer = ContactFactory.create()
    page = owner_client.post(f"/animals/{animal.pk}/sheet/", {"mark": mark, "buyer": buyer.pk})
    assert "The book has changed since you read this. Read it again." in text_of(page)
    assert f'<option value="{buyer.pk}" selected>' in text_of(page)
    assert Sheet.objects.count() == 0
    owner_client.post(
        f"/animals/{animal.pk}/sheet/", {"mark": page.context["page"].mark, "buyer": buyer.pk}
    )
    assert Sheet.objects.get().buyer == buyer


def test_a_sheet_that_fits_no_paper_cannot_be_issued(owner_client: Client, animal: Animal) -> None:
    animal.name = "漢"
    animal.save()
    page = owner_client.post(
        f"/animals/{animal.pk}/sheet/", {"mark": mark_of(owner_client, animal)}
    )
    text = text_of(page)
    assert "<strong>No A5.</strong> A name or note has a character" in text
    assert "It cannot be issued as it stands." in text
    assert Sheet.objects.count() == 0
    assert owner_client.get(f"/animals/{animal.pk}/sheet/draft-a4.pdf").status_code == 422


def test_the_sheets_of_an_animal_are_listed_in_one_query_each(
    owner_client: Client, animal: Animal, owner: Account
) -> None:
    address = f"/animals/{animal.pk}/sheet/"
    counts = []
    for _ in range(3):
        sheet, _entry = domain.issue(animal=animal, by=owner, buyer=ContactFactory.create())
        with CaptureQueriesContext(connection) as asked:
            page = owner_client.get(address)
        counts.append(len(asked))
    domain.withdraw(sheet=sheet, reason="wrong sex", by=owner)
    assert counts[0] == counts[2]
    text = text_of(owner_client.get(address))
    assert page.context["sheets"].count() == 3
    assert '<span class="withdrawn">withdrawn: wrong sex</span>' in text


@pytest.mark.parametrize("size", ["a4", "a5"])
def test_pdf_is_served_privately_under_a_plain_name(
    owner_client: Client, animal: Animal, owner: Account, size: str
) -> None:
    sheet, _ = domain.issue(animal=animal, by=owner)
    answer = owner_client.get(f"/sheets/{sheet.pk}/{size}.pdf")
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == f'inline; filename="sheet-1-K-1-{size}.pdf"'
    assert answer["Cache-Control"] == "private, no-store"
    kept = owner_client.get(f"/sheets/{sheet.pk}/{size}.pdf?download=1")
    assert kept["Content-Disposition"].startswith("attachment; ")
    pages, text = text_of_pdf(answer.content)
    assert pages == 1
    assert f"Sale sheet no. 1 code {sheet.code[:4]}-{sheet.code[4:]}" in text


def test_pages_need_a_log_in(client: Client, animal: Animal, owner: Account) -> None:
    sheet, _ = domain.issue(animal=animal, by=owner)
    for address in (f"/sheets/{sheet.pk}/", f"/sheets/{sheet.pk}/a5.pdf"):
        assert client.get(address).status_code == 302


def test_withdrawing_needs_a_reason_and_keeps_number_and_words(
    owner_client: Client, animal: Animal, owner: Account
) -> None:
    sheet, _ = domain.issue(animal=animal, by=owner)
    address = f"/sheets/{sheet.pk}/withdraw/"
    assert "This field is required." in text_of(owner_client.post(address, {"reason": ""}))
    page = owner_client.post(address, {"reason": "wrong sex"}, follow=True)
    assert "<strong>Withdrawn</strong>" in text_of(page)
    assert "Withdrew sale sheet 1 of K-1." in text_of(page)
    again = owner_client.post(address, {"reason": "again"})
    assert "Sheet 1 was withdrawn already: nothing is left to do." in text_of(again)
    sheet.refresh_from_db()
    assert (sheet.is_withdrawn, sheet.withdrawn_reason) == (True, "wrong sex")
    assert sheet.content["number"] == 1


def test_no_sheet_of_a_withdrawn_animal(
    owner_client: Client, animal: Animal, owner: Account
) -> None:
    animal.withdrawn_at = timezone.now()
    animal.save()
    with pytest.raises(Refused) as error:
        domain.issue(animal=animal, by=owner)
    assert str(error.value) == "The record of K-1 was withdrawn. Restore it first."
    assert owner_client.get(f"/animals/{animal.pk}/sheet/").status_code == 404


def test_an_animal_with_a_sheet_cannot_vanish(animal: Animal, owner: Account) -> None:
    domain.issue(animal=animal, by=owner)
    with pytest.raises(ProtectedError):
        animal.delete()
