"""What is said of an animal beside its first word, and of words that are doubted."""

from datetime import date
from fractions import Fraction

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference.reading.founders import ABOUT
from tests.keeper.books import Book
from tests.keeper.looking import observe

pytestmark = pytest.mark.django_db

DAY = date(2026, 6, 1)
# By hand: an animal of which nothing is said has a copy of a line at 1 in 100.
UNSAID = 1 - (1 - ABOUT) ** 2


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def contact(book: Book, name: str, reliability: str) -> m.Contact:
    with writing(by=book.by, what=f"Added {name}") as entry:
        return entry.keep(m.Contact(name=name, reliability=reliability))


def say(
    book: Book,
    animal: m.Animal,
    source: m.Contact | None,
    claim: str,
    chance: str | None = None,
    line: m.Line | None = None,
) -> m.Statement:
    with writing(by=book.by, what=f"Word on {animal}") as entry:
        said = m.Statement(animal=animal, trait=book.trait, line=line or book.line, claim=claim)
        said.chance, said.source = chance, source
        return entry.keep(said)


def carries(animal: m.Animal, line: m.Line | None) -> float:
    one = m.Standing.objects.filter(animal=animal, line=line).first()
    return 0.0 if one is None else 1 - one.none


@pytest.mark.parametrize(
    ("trust", "claim", "chance", "expected"),
    [
        ("4/5", "carries", None, Fraction(4, 5) + UNSAID / 5),
        ("4/5", "possible", "2/3", Fraction(8, 15) + UNSAID / 5),
        ("0", "visual", None, UNSAID),
        ("1/10", "clear", None, UNSAID * Fraction(9, 10)),
        ("1", "clear", None, Fraction(0)),
        ("1", "possible", "2/3", Fraction(2, 3)),
    ],
)
def test_word_that_is_not_true_leaves_what_any_animal_may_have(
    book: Book, trust: str, claim: str, chance: str | None, expected: Fraction
) -> None:
    animal = book.founder("A1", "female")
    say(book, animal, contact(book, "Otto", trust), claim, chance)
    assert carries(animal, book.line) == pytest.approx(float(expected))
    assert inference.differences() == []


def test_background_of_a_line_is_what_a_doubted_word_leaves(book: Book) -> None:
    book.line.background = Fraction(1, 10)
    with writing(by=book.by, what="Background") as entry:
        entry.keep(book.line)
    animal = book.founder("A1", "female")
    say(book, animal, contact(book, "Otto", "1/2"), "carries")
    assert carries(animal, book.line) == pytest.approx(0.5 + 0.5 * (1 - 0.9**2))


def test_doubted_het_that_is_later_seen_is_no_dispute(book: Book) -> None:
    animal = book.founder("A1", "female")
    say(book, animal, contact(book, "Otto", "4/5"), "possible", "4/5")
    observe(animal=animal, trait=book.trait, seen="yes", on=DAY, by=book.by)
    assert not m.Dispute.objects.exists()
    assert book.said(animal) == ("visual", "100 %")
    assert inference.differences() == []


def test_two_sources_of_one_animal_are_weighed_together(book: Book) -> None:
    # 4/5 trusted het by one, 9/10 by the other: what the first leaves open, the second takes to a
    # tenth.
    animal = book.founder("A1", "female")
    say(book, animal, contact(book, "Otto", "4/5"), "carries")
    say(book, animal, contact(book, "Ines", "9/10"), "carries")
    first = Fraction(4, 5) + UNSAID / 5
    expected = first / (first + (1 - first) / 10)
    assert carries(animal, book.line) == pytest.approx(float(expected))
    assert inference.differences() == []


def test_source_that_denies_what_another_says(book: Book) -> None:
    animal = book.founder("A1", "female")
    say(book, animal, contact(book, "Otto", "4/5"), "carries")
    say(book, animal, contact(book, "Ines", "9/10"), "clear")
    first = Fraction(4, 5) + UNSAID / 5
    expected = (first / 10) / (first / 10 + 1 - first)
    assert carries(animal, book.line) == pytest.approx(float(expected))


def test_two_certain_words_that_differ_are_a_dispute(book: Book) -> None:
    animal = book.founder("A1", "female")
    say(book, animal, None, "carries")
    say(book, animal, contact(book, "Ines", "1"), "clear")
    (dispute,) = m.Dispute.objects.filter(closed=None)
    assert {record["model"] for record in dispute.conflict} == {"statement"}
    assert inference.differences() == []


def test_word_on_a_hatchling_is_weighed_against_its_parents(book: Book) -> None:
    # Het × normal: one in two. A het by a source trusted 4/5: odds 1 to 1/5.
    dam = book.founder("A1", "female", "carries")
    young = book.young("K1", book.clutch("C1", dam, book.founder("A2", "male")), seen=None)
    say(book, young, contact(book, "Otto", "4/5"), "carries")
    assert carries(young, book.line) == pytest.approx(5 / 6)
    assert inference.differences() == []


def test_chance_that_was_worked_out_from_parents_is_noted_and_not_weighed(book: Book) -> None:
    dam = book.founder("A1", "female", "carries")
    young = book.young("K1", book.clutch("C1", dam, book.founder("A2", "male")), seen=None)
    say(book, young, contact(book, "Otto", "1"), "possible", "1/2")
    assert carries(young, book.line) == 0.5


def test_certain_word_that_its_parents_exclude_is_a_dispute(book: Book) -> None:
    clutch = book.clutch("C1", book.founder("A1", "female"), book.founder("A2", "male"))
    young = book.young("K1", clutch, seen=None)
    say(book, young, contact(book, "Otto", "1"), "carries")
    assert m.Dispute.objects.filter(closed=None).count() == 1
    assert inference.differences() == []


def test_two_sources_may_both_call_it_visual(book: Book, owner: m.Account) -> None:
    animal = book.founder("A1", "female", "visual")
    say(book, animal, contact(book, "Ines", "1"), "visual")
    assert book.said(animal)[1] == "100 %"
    assert not m.Dispute.objects.exists()


# --- laboratories -------------------------------------------------------------------------------


def lab(book: Book, animal: m.Animal, found: str, name: str = "Helix Bench") -> m.LabTest:
    with writing(by=book.by, what="Result") as entry:
        laboratory = m.Laboratory.objects.filter(name=name).first() or entry.keep(
            m.Laboratory(name=name, misses="1/100", mistakes="1/1000")
        )
        test = m.LabTest(animal=animal, line=book.line, found=found, laboratory=laboratory, on=DAY)
        return entry.keep(test)


def test_laboratory_is_not_credited_with_what_it_did_not_find(book: Book) -> None:
    # A source's visual has two copies; a laboratory that found one bears that out for nobody.
    animal = book.founder("A1", "female", "visual")
    lab(book, animal, "one")
    assert book.said(animal)[0] == "stated"
    assert m.Surprise.objects.filter(animal=animal).exists()


def test_two_copies_found_in_a_possible_het_are_a_surprise(book: Book) -> None:
    animal = book.founder("A1", "female", "possible", "2/3")
    lab(book, animal, "two")
    assert book.said(animal) == ("stated", "66 %")
    assert m.Surprise.objects.filter(animal=animal).exists()


def test_laboratories_that_disagree_are_said_to(book: Book) -> None:
    animal = book.founder("A1", "female", "possible", "2/3")
    lab(book, animal, "carries")
    lab(book, animal, "none", "Tarn Assay")
    assert book.said(animal)[0] == "labs"
