"""What a laboratory's result does to an animal's numbers.

A positive result where a fraction f of those without the gene are found by mistake, and a fraction
m of those with it are missed, makes of the chance p (Bayes' theorem)

    p (1 - m) / (p (1 - m) + (1 - p) f),   a negative one   p m / (p m + (1 - p)(1 - f)).
"""

from datetime import date
from fractions import Fraction

import pytest

from keeper.domain import inference
from keeper.domain.animals.writes import restore, withdraw_record
from keeper.domain.book.undoing import undo
from keeper.domain.laboratories.writes import keep_laboratory, keep_test
from keeper.domain.saying.wording import said
from keeper.domain.sheets import writes as sheets
from keeper.models import (
    Account,
    Animal,
    DaybookEntry,
    Dispute,
    Laboratory,
    LabTest,
    Standing,
    Statement,
)
from tests.keeper.books import Book

P, M, F = Fraction(2, 3), Fraction(1, 20), Fraction(1, 50)
POSITIVE = P * (1 - M) / (P * (1 - M) + (1 - P) * F)
NEGATIVE = P * M / (P * M + (1 - P) * (1 - F))


@pytest.fixture
def book(owner: Account) -> Book:
    return Book(owner)


def laboratory(book: Book, name: str, misses: Fraction = M, mistakes: Fraction = F) -> Laboratory:
    one = Laboratory(name=name, misses=str(misses), mistakes=str(mistakes))
    keep_laboratory(laboratory=one, by=book.by)
    return one


def find(book: Book, animal: Animal, by: Laboratory, found: str) -> DaybookEntry:
    test = LabTest(animal=animal, line=book.line, found=found, laboratory=by, on=date(2026, 5, 1))
    return keep_test(test=test, by=book.by)


def carries(animal: Animal) -> float:
    standing = Standing.objects.filter(animal=animal, line=None).first()
    return 0.0 if standing is None else standing.carries


@pytest.mark.parametrize(("found", "expected"), [("carries", POSITIVE), ("none", NEGATIVE)])
def test_result_moves_a_possible_het_by_bayes(book: Book, found: str, expected: Fraction) -> None:
    animal = book.founder("F1", "female", "possible", "2/3")
    find(book, animal, laboratory(book, "Cove"), found)
    assert carries(animal) == pytest.approx(float(expected), abs=1e-12)
    assert inference.differences() == []


def test_result_is_found_by_a_laboratory_and_says_how_sure(book: Book) -> None:
    animal = book.founder("F1", "female", "possible", "2/3")
    find(book, animal, laboratory(book, "Cove"), "carries")
    # 0.66·0.95 / (0.66·0.95 + 0.33·0.02) = 0.98958.
    standing = Standing.objects.get(animal=animal, line=None)
    assert said(standing).words == "found by a laboratory, 98 % sure"


def test_result_that_finds_none_leaves_no_word_that_it_was_not_tested(book: Book) -> None:
    animal = book.founder("F1", "female", "possible", "2/3")
    find(book, animal, laboratory(book, "Cove"), "none")
    standing = Standing.objects.get(animal=animal, line=None)
    words = said(standing, Statement.objects.select_related("source").get()).words
    # 0.66·0.05 / (0.66·0.05 + 0.33·0.98) = 0.0926.
    assert words == "stated possible het 66 % by a source not named; 9 % by all that is known here"


def test_two_laboratories_that_may_err_and_disagree_leave_a_figure(book: Book) -> None:
    animal = book.founder("F1", "female", "possible", "2/3")
    find(book, animal, laboratory(book, "Cove"), "carries")
    find(book, animal, laboratory(book, "Fell", Fraction(1, 10), Fraction(1, 100)), "none")
    # One after the other: the second weighs the odds that the first left.
    odds = POSITIVE / (1 - POSITIVE) * Fraction(1, 10) / Fraction(99, 100)
    assert carries(animal) == pytest.approx(float(odds / (1 + odds)), abs=1e-12)
    assert not Dispute.objects.exists()
    assert inference.differences() == []


def test_two_laboratories_that_never_err_and_disagree_are_a_dispute_and_both_are_kept(
    book: Book,
) -> None:
    animal = book.founder("F1", "female", "possible", "2/3")
    never = Fraction(0)
    find(book, animal, laboratory(book, "Cove", never, never), "carries")
    assert book.said(animal) == ("tested", "100 %")
    entry = find(book, animal, laboratory(book, "Fell", never, never), "none")
    dispute = Dispute.objects.get(closed=None)
    assert dispute.opened == entry
    assert [one["model"] for one in dispute.conflict] == ["labtest", "labtest"]
    assert LabTest.objects.live().count() == 2
    standing = Standing.objects.get(animal=animal, line=None)
    assert said(standing).words == "disputed; before that: found by a laboratory"
    assert inference.differences() == []
    undo(entry=entry, by=book.by)
    assert (book.said(animal), Dispute.objects.filter(closed=None).count()) == (
        ("tested", "100 %"),
        0,
    )


def test_result_that_never_errs_against_what_hatched_is_a_dispute(book: Book) -> None:
    dam, sire = (
        book.founder("F1", "female", "possible", "2/3"),
        book.founder("M1", "male", "visual"),
    )
    book.clutch("C1", dam, sire, visual=1)
    assert book.said(dam) == ("proven", "100 %")
    find(book, dam, laboratory(book, "Cove", Fraction(0), Fraction(0)), "none")
    dispute = Dispute.objects.get(closed=None)
    assert "labtest" in {one["model"] for one in dispute.conflict}
    assert Standing.objects.get(animal=dam, line=None).dispute == dispute


def test_result_brings_a_gene_into_the_book_that_nobody_spoke_of(book: Book) -> None:
    animal = book.founder("F1", "female")
    find(book, animal, laboratory(book, "Cove", Fraction(0), Fraction(0)), "two")
    assert book.said(animal) == ("tested", "100 %")
    assert Standing.objects.get(animal=animal, line=None).two == 1
    assert inference.differences() == []


def test_withdrawn_and_restored_result_gives_the_numbers_back(book: Book) -> None:
    animal = book.founder("F1", "female", "possible", "2/3")
    find(book, animal, laboratory(book, "Cove"), "none")
    test, moved = LabTest.objects.get(), carries(animal)
    withdraw_record(record=test, by=book.by, reason="another sample")
    assert carries(animal) == pytest.approx(2 / 3, abs=1e-12)
    restore(record=LabTest.objects.get(), by=book.by)
    assert carries(animal) == moved


def test_changed_rates_of_a_laboratory_move_its_results(book: Book) -> None:
    animal = book.founder("F1", "female", "possible", "2/3")
    one = laboratory(book, "Cove")
    find(book, animal, one, "carries")
    one.mistakes = Fraction(1, 5)
    keep_laboratory(laboratory=one, by=book.by, reason="its own figures")
    expected = P * (1 - M) / (P * (1 - M) + (1 - P) * Fraction(1, 5))
    assert carries(animal) == pytest.approx(float(expected), abs=1e-12)


def test_sheet_names_the_laboratory_its_day_and_its_rates(book: Book) -> None:
    animal = book.founder("F1", "female", "possible", "2/3")
    find(book, animal, laboratory(book, "Cove"), "carries")
    (row,) = sheets.draft(animal, by=book.by)["claims"]
    assert row["words"] == "found by a laboratory, 98 % sure"
    assert row["grounds"] == (
        "Stated possible het 66 % by a source not named. "
        "Cove found one copy or two of HAR, 1 May 2026 (misses 5 %, finds by mistake 2 %)."
    )


def test_result_says_how_likely_two_copies_are(book: Book) -> None:
    dam = book.founder("F1", "female", "carries")
    young = book.young("K1", book.clutch("C1", dam, book.founder("M1", "male", "carries")), None)
    find(book, young, laboratory(book, "Cove"), "carries")
    # 1/4 two, 1/2 one, 1/4 none: 0.75·0.95 + 0.25·0.02 = 0.7175; carries 0.993, two 0.331.
    words = said(Standing.objects.get(animal=young, line=None)).words
    assert words == "found by a laboratory, 99 % sure; 33 % has two copies"
