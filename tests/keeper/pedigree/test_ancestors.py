"""The ancestors on a sheet: by name and generation, as they stood when it was issued."""

import pytest
from django.test import Client
from django.urls import reverse

from keeper.domain.book.writing import writing
from keeper.domain.pedigree.ancestors import chart, older_ancestors
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


def test_the_chart_spans_rows_and_names_who_is_not_recorded_by_nothing(small: Yard) -> None:
    young = small.book.young("Y-1", small.book.clutch("C-8", small["K-1"], small["G-1"]))
    drawn = chart(young)
    assert drawn["generations"] == 3
    assert [
        (one["generation"], one["span"], one["wide"], one["role"], one["who"])
        for one in drawn["cells"]
    ] == [
        (1, 4, 1, "sire", "G-1"),
        (2, 4, 2, "", ""),
        (1, 4, 1, "dam", "K-1"),
        (2, 2, 1, "sire", "S-1"),
        (3, 2, 1, "", ""),
        (2, 2, 1, "dam", "D-1"),
        (3, 1, 1, "sire", "G-1"),
        (3, 1, 1, "dam", "G-2"),
    ]
    assert chart(small["D-1"]) == {"generations": 0, "cells": []}
    assert chart(small["K-1"])["generations"] == 2
    # Every place of the table is filled once.
    for whole in (drawn, chart(small["K-1"])):
        places = sum(one["span"] * one["wide"] for one in whole["cells"])
        assert places == whole["generations"] * 2 ** whole["generations"]


def test_above_several_that_may_be_the_sire_nobody_is_drawn(small: Yard, owner: Account) -> None:
    with writing(by=owner, what="Another candidate") as book:
        other = small.book.founder("S-2", "male")
        book.keep(CandidateSire(clutch=small.clutch, sire=other))
    cells = chart(small["K-1"])["cells"]
    assert [(one["role"], one["who"]) for one in cells] == [
        ("possible sires", "S-1 or S-2"),
        ("", ""),
        ("dam", "D-1"),
        *(("sire", "G-1"), ("dam", "G-2")),
    ]


@pytest.mark.parametrize("size", ["a4", "a5"])
def test_a_sheet_draws_them(small: Yard, owner: Account, size: str) -> None:
    young = small.book.young("Y-1", small.book.clutch("C-8", small["K-1"], small["G-1"]))
    pages, printed = text_of_pdf(typeset(draft(young, by=owner), source="sheet", size=size))
    assert pages == 1
    drawn = printed[printed.index("Pedigree") : printed.index("Before you take it home")]
    named = sorted(one for one in drawn.split() if "-" in one)  # read from top to bottom
    assert named == ["D-1", "G-1", "G-1", "G-2", "K-1", "S-1"]
    assert "Grandparents" not in printed


def test_a_sheet_prints_them_and_keeps_them_as_issued(
    owner_client: Client, owner: Account, small: Yard
) -> None:
    sheet, _ = issue(animal=small["K-1"], by=owner)
    said = "dam's dam G-2, dam's sire G-1"
    assert "Pedigree" in text_of_pdf(typeset(sheet.content, source="sheet", size="a4"))[1]
    # Where there is no room for the chart, or the sheet was issued before it was drawn.
    listed = {part: value for part, value in sheet.content.items() if part != "pedigree"}
    _, printed = text_of_pdf(typeset(listed, source="sheet", size="a4"))
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
    del content["ancestors"], content["pedigree"]
    _, printed = text_of_pdf(typeset(content, source="sheet", size="a4"))
    assert "Grandparents" not in printed
    assert fingerprint(content) != whole
