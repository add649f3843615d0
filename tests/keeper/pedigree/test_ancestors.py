"""The ancestors on a sheet: by name and generation, as they stood when it was issued."""

import pytest
from django.test import Client
from django.urls import reverse

from keeper.domain.book.writing import writing
from keeper.domain.pedigree.ancestors import older_ancestors
from keeper.domain.sheets.writes import draft, fingerprint, issue
from keeper.models import Account, CandidateSire
from keeper.paper.typesetting import typeset
from tests.keeper.pedigree.rows import Yard, yard
from tests.keeper.sheets.rows import text_of_pdf


@pytest.fixture
def small(owner: Account) -> Yard:
    return yard(owner)


def test_grandparents_are_named_by_their_way(small: Yard) -> None:
    assert older_ancestors(small["K-1"]) == [
        {"generation": "Grandparents", "who": "dam's dam G-2, dam's sire G-1"}
    ]
    young = small.book.young("Y-1", small.book.clutch("C-8", small["K-1"], small["G-1"]))
    assert older_ancestors(young) == [
        {"generation": "Grandparents", "who": "dam's dam D-1, dam's sire S-1"},
        {"generation": "Great-grandparents", "who": "dam's dam's dam G-2, dam's dam's sire G-1"},
    ]
    assert older_ancestors(small["D-1"]) == older_ancestors(small["G-1"]) == []


def test_ancestors_of_one_that_may_be_the_sire_are_possible_ones(
    small: Yard, owner: Account
) -> None:
    with writing(by=owner, what="Another candidate") as book:
        book.keep(CandidateSire(clutch=small.clutch, sire=small.book.founder("S-2", "male")))
    young = small.book.young("Y-1", small.book.clutch("C-8", small["K-1"], None))
    row, _ = older_ancestors(young)
    assert row["who"] == "dam's dam D-1, dam's possible sire S-1, dam's possible sire S-2"


def test_a_sheet_prints_them_and_keeps_them_as_issued(
    owner_client: Client, owner: Account, small: Yard
) -> None:
    sheet, _ = issue(animal=small["K-1"], by=owner)
    said = "dam's dam G-2, dam's sire G-1"
    _, printed = text_of_pdf(typeset(sheet.content, source="sheet", size="a4"))
    assert f"Grandparents {said}" in printed
    with writing(by=owner, what="Another code") as book:
        granddam = small["G-2"]
        granddam.code = "G-22"
        book.keep(granddam)
    assert draft(small["K-1"], by=owner)["ancestors"] != sheet.content["ancestors"]
    page = owner_client.get(reverse("sheets-one", args=[sheet.pk])).content.decode()
    assert "dam&#x27;s dam G-2," in page


def test_a_sheet_issued_before_has_none_and_is_shown_all_the_same(
    small: Yard, owner: Account
) -> None:
    content = draft(small["K-1"], by=owner)
    whole = fingerprint(content)
    del content["ancestors"]
    _, printed = text_of_pdf(typeset(content, source="sheet", size="a4"))
    assert "Grandparents" not in printed
    assert fingerprint(content) != whole
