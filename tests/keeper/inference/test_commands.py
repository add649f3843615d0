"""The commands for a book in doubt and for a puzzled keeper."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from genetics import answer_case
from keeper import models as m
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    made = Book(owner)
    clutch = made.clutch(
        "C1", made.founder("F1", "female", "carries"), made.founder("M1", "male", "carries")
    )
    made.young("K1", clutch)
    return made


def printed(*arguments: str) -> str:
    out = StringIO()
    call_command(*arguments, stdout=out)
    return out.getvalue()


def test_recompute_of_a_true_book_says_so(book: Book) -> None:
    assert printed("recompute", "--check") == "Every standing is what the book says.\n"


def test_recompute_reports_and_puts_right(book: Book) -> None:
    m.Standing.objects.filter(animal__code="K1", line=None).update(one=0.5, none=0.5)
    out = StringIO()
    with pytest.raises(SystemExit):
        call_command("recompute", stdout=out)
    report, end = out.getvalue().splitlines()
    assert report.startswith(
        "K1: Saltgrass: stored possible 0.0 0.5 0.5; computed possible 0.0 0.6"
    )
    assert end == "Put right: 1."
    assert printed("recompute", "--check") == "Every standing is what the book says.\n"


def test_family_is_a_case_that_the_engine_answers(book: Book) -> None:
    answer = answer_case(json.loads(printed("family", "k1")))
    assert answer["posterior"]["K1"][book.line.locus.name]["+/HAR"] == pytest.approx(2 / 3)


def test_family_of_nobody_names_the_near(book: Book) -> None:
    with pytest.raises(CommandError, match="no animal 'K9' is in the book"):
        printed("family", "K9")
