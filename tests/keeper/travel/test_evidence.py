"""What a signed sheet lets others work out, and what it tells nobody."""

import json
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from jsonschema import Draft202012Validator

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.sheets.signing import read
from tests.keeper.books import Book
from tests.keeper.travel.books import evidence_of, family, issued, solved_outside

pytestmark = pytest.mark.django_db

SCHEMA = json.loads(Path(settings.ROOT, "fixtures/papers/paper.schema.json").read_text())


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def figures(part: dict[str, Any]) -> dict[tuple[str, str], float]:
    return {(one["line"], one["copies"]): one["chance"] for one in part["figures"]}


def test_the_figures_follow_from_the_file_alone(book: Book) -> None:
    animal = family(book)
    (part,) = evidence_of(issued(animal, book.by))["parts"]
    # Every young of a visual carries one copy; neither line nor trait is in doubt.
    assert figures(part) == {("", "carries"): 1.0, ("HAR", "carries"): 1.0}
    assert [1 - one for one in solved_outside(part)] == [1.0, 1.0]


def test_a_figure_between_is_the_books_own_and_the_files(book: Book) -> None:
    dam = book.founder("F1", "female", "possible", "2/3")
    sire = book.founder("M1", "male", "carries")
    clutch = book.clutch("C1", dam, sire, normal=4)
    animal = book.young("C1-a", clutch, seen=False)
    (part,) = evidence_of(issued(animal, book.by))["parts"]
    standing = m.Standing.objects.get(animal=animal, line=None)
    asked = solved_outside(part)
    assert figures(part)["", "carries"] == pytest.approx(standing.carries, abs=1e-12)
    assert 1 - asked[0] == pytest.approx(standing.carries, abs=1e-12)


def test_a_proven_carrier_rests_on_the_counts_of_its_clutch(book: Book) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    sire = book.founder("M1", "male", "visual")
    book.clutch("C1", dam, sire, visual=1, normal=5)
    (part,) = evidence_of(issued(dam, book.by))["parts"]
    assert part["case"]["clutches"][0]["tally"] == [
        {"count": 1, "shows": {"Saltgrass": True}},
        {"count": 5, "shows": {"Saltgrass": False}},
    ]
    assert figures(part)["", "carries"] == 1


def test_what_is_signed_fits_the_schema(book: Book) -> None:
    sheet = issued(family(book), book.by)
    record = read(bytes(sheet.signed or b""))
    assert [one.message for one in Draft202012Validator(SCHEMA).iter_errors(record)] == []
    record["evidence"]["source"] = "Wren"
    assert list(Draft202012Validator(SCHEMA).iter_errors(record))


def test_nobody_is_named_and_nothing_private_is_told(book: Book) -> None:
    animal = family(book)
    m.Animal.objects.update(notes="canary note", place="canary rack", name="canary name")
    evidence = json.dumps(evidence_of(issued(animal, book.by)))
    for private in ("anary", "F-7", "M-7", "26-11"):
        assert private not in evidence


def test_who_is_in_it_can_be_told_by_identity(book: Book) -> None:
    animal = family(book)
    evidence = evidence_of(issued(animal, book.by))
    assert evidence["identities"]["A1"] == evidence["identity"] == str(animal.identity)
    clutch = m.Clutch.objects.get()
    assert evidence["identities"]["C1"] == str(clutch.identity)


def test_a_disputed_gene_is_left_out_with_the_reason(book: Book) -> None:
    dam = book.founder("F1", "female", "visual")
    sire = book.founder("M1", "male", "visual")
    animal = book.young("K1", book.clutch("C1", dam, sire), seen=False)
    assert m.Standing.objects.filter(animal=animal).exclude(dispute=None).exists()
    evidence = evidence_of(issued(animal, book.by))
    assert evidence["parts"] == evidence["traits"] == []
    assert evidence["left_out"] == [
        {"trait": "Saltgrass", "why": "disputed: nothing is claimed of it"}
    ]


def test_no_source_is_named_with_what_it_is_trusted(book: Book) -> None:
    source = m.Contact.objects.create(name="Wren", reliability="7/10")
    with writing(by=book.by, what="Bought two") as entry:
        bought = [
            entry.keep(
                m.Animal(
                    species=book.species, code=code, sex="female", source=source,
                    acquired_on="2026-01-02",
                )
            )
            for code in ("F1", "F2")
        ]  # fmt: skip
        for one in bought:
            entry.keep(
                m.Statement(
                    animal=one, trait=book.trait, line=book.line, claim="carries", source=source
                )
            )
    sire = book.founder("M1", "male", "visual")
    for one in bought:
        book.clutch(f"C-{one}", one, sire, normal=2)
    (part,) = evidence_of(issued(bought[0], book.by))["parts"]
    assert list(part["case"]["trust"]) == ["together 1"]
    standing = m.Standing.objects.get(animal=bought[0], line=None)
    assert 1 - solved_outside(part)[0] == pytest.approx(standing.carries, abs=1e-12)
