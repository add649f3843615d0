"""What each record weighs, in one look at several places, and how a number came about by days."""

from datetime import date
from typing import Any

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from tests.factories import ContactFactory, LineFactory
from tests.keeper.books import Book
from tests.keeper.counting import queries_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def keep(book: Book, record: Any) -> Any:
    with writing(by=book.by, what="Kept") as entry:
        return entry.keep(record)


def dated(book: Book, code: str, dam: m.Animal, sire: m.Animal, on: date, **rows: int) -> None:
    clutch = book.clutch(code, dam, sire, **rows)
    clutch.hatched_on = on
    keep(book, clutch)


def without(animal: m.Animal, trait: m.Trait, line: m.Line | None = None) -> dict[str, Any]:
    """Text of each piece of evidence → the figure without it."""
    return {one.text: one.without for one in inference.grounds(animal, trait, line).grounds}


def laboratory_test(book: Book, animal: m.Animal, found: str, **rates: str) -> m.LabTest:
    laboratory = keep(book, m.Laboratory(name=f"Laboratory {found}", **rates))
    test = m.LabTest(animal=animal, line=book.line, laboratory=laboratory, found=found)
    test.on = date(2026, 3, 1)
    kept: m.LabTest = keep(book, test)
    return kept


def test_grounds_weigh_a_look_over_all_of_its_places(book: Book) -> None:
    # One copy of either parent, each passed on with 1/2, at two places: 1 − 1/2 · 1/2 = 3/4.
    other = LineFactory.create(trait=book.trait, code="PEL")
    dam = book.founder("F1", "female", "carries")
    sire = book.founder("M1", "male", "carries", line=other)
    one = book.young("K1", book.clutch("C1", dam, sire), seen=None)
    found = inference.grounds(one, book.trait)
    assert {ground.now for ground in found.grounds} == {0.75}
    assert without(one, book.trait) == {
        "clutch C1: F1 × M1": 0.0,
        "F1: 100 % het (one copy) Saltgrass HAR, by a source not named": 0.5,
        "M1: 100 % het (one copy) Saltgrass PEL, by a source not named": 0.5,
    }
    assert without(one, book.trait, other)["clutch C1: F1 × M1"] == 0.0


def test_grounds_weigh_places_that_nothing_joins(book: Book) -> None:
    # A dominant look never looked for: the two places are independent.
    book.trait.shown = "dominant"
    keep(book, book.trait)
    other = LineFactory.create(trait=book.trait, code="PEL")
    dam = book.founder("F1", "female", "carries")
    sire = book.founder("M1", "male", "carries", line=other)
    one = book.young("K1", book.clutch("C1", dam, sire), seen=None)
    assert {ground.now for ground in inference.grounds(one, book.trait).grounds} == {0.75}


def test_grounds_weigh_clutches_that_each_prove_it_together(book: Book) -> None:
    dam, sire = (
        book.founder("F1", "female", "possible", "2/3"),
        book.founder("M1", "male", "visual"),
    )
    book.clutch("C1", dam, sire, visual=1)
    clutch = book.clutch("C2", dam, sire, visual=2)
    one = book.young("K1", clutch, sex="female")
    # Her normal daughter is a carrier by birth, which another clutch proves again.
    book.clutch("C3", one, sire, visual=1)
    found = without(dam, book.trait)
    assert found["clutch C1: 1 of 1 showed Saltgrass"] == 1
    assert found["clutch C2: 2 of 3 showed Saltgrass"] == 1
    assert found["3 clutches of it and its descendants, taken together"] == pytest.approx(2 / 3)


def test_grounds_take_what_is_far_off_together(book: Book) -> None:
    # Four generations down from a possible carrier: 2/3 · (1/2)⁴; its paper is three steps off.
    mother = book.founder("F0", "female", "possible", "2/3")
    for number in range(1, 5):
        clutch = book.clutch(f"C{number}", mother, book.founder(f"M{number}", "male"))
        mother = book.young(f"K{number}", clutch, seen=None, sex="female")
    (last,) = [g for g in inference.grounds(mother, book.trait).grounds if g.record is None]
    assert (last.text, last.without) == ("1 record of more distant relatives", 0.0)
    assert last.now == pytest.approx(1 / 24)


def test_grounds_count_what_brought_a_gene_in_as_one_piece(book: Book) -> None:
    sire = book.founder("M1", "male")
    with writing(by=book.by, what="Looked") as entry:
        book.look(entry, sire, seen=True)
    one = book.young("K1", book.clutch("C1", book.founder("F1", "female"), sire), seen=None)
    assert without(one, book.trait) == {"Saltgrass seen on M1": 0.0, "clutch C1: F1 × M1": 0.0}


def test_grounds_weigh_a_laboratory_and_name_the_source(book: Book) -> None:
    # Half taken, else as any animal: 1/2 + 1/2 · 0.0199. Nine in ten carriers are found.
    joss = ContactFactory.create(name="Joss Wendry", reliability="1/2")
    one = book.founder("F1", "female")
    said = m.Statement(animal=one, trait=book.trait, line=book.line, claim="carries", source=joss)
    keep(book, said)
    laboratory_test(book, one, "none", misses="1/10")
    found = without(one, book.trait)
    assert found == {
        "Laboratory none found no copy of Saltgrass HAR in F1": pytest.approx(0.50995),
        "F1: 100 % het (one copy) Saltgrass HAR, by Joss Wendry, taken for 50 %": 0.0,
    }
    assert inference.grounds(one, book.trait).grounds[0].now == pytest.approx(
        0.050995 / (0.050995 + 0.49005)
    )


def test_grounds_name_a_gene_that_began_with_an_animal(book: Book) -> None:
    sire = book.founder("M1", "male")
    keep(book, m.Arising(animal=sire, line=book.line))
    assert "Saltgrass HAR began with M1" in without(sire, book.trait)


def test_course_tells_what_each_day_taught(book: Book) -> None:
    # Odds of 2 to 1 fall to a half with each clean young of a visual: 1/4 after three, 1/16
    # after five.
    dam, sire = (
        book.founder("F1", "female", "possible", "2/3"),
        book.founder("M1", "male", "visual"),
    )
    dated(book, "C2", dam, sire, date(2025, 6, 1), normal=2)
    dated(book, "C1", dam, sire, date(2024, 6, 1), normal=3)
    course = inference.course(dam, book.trait)
    assert (course.start, course.further) == (0.0, 0)
    assert [day.on for day in course.days] == [None, date(2024, 6, 1), date(2025, 6, 1)]
    assert [day.after for day in course.days] == pytest.approx([2 / 3, 1 / 5, 1 / 17])
    assert [one.text for one in course.days[1].told] == ["clutch C1: 0 of 3 showed Saltgrass"]
    proven = book.clutch("C3", dam, sire, visual=1)
    proven.hatched_on = date(2026, 6, 1)
    keep(book, proven)
    assert [day.after for day in inference.course(dam, book.trait).days][-1] == 1.0


def test_course_says_what_could_not_be_yet(book: Book) -> None:
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    for parent in (dam, sire):
        said = m.Statement(animal=parent, trait=book.trait, line=book.line, claim="carries")
        said.on = date(2025, 1, 1)
        keep(book, said)
    dated(book, "C1", dam, sire, date(2024, 6, 1), visual=1)
    assert [day.after for day in inference.course(dam, book.trait).days] == [None, 1.0]


def test_course_of_what_nothing_bears_on_is_empty(book: Book) -> None:
    assert inference.course(book.founder("F1", "female"), book.trait).days == ()


def test_grounds_of_a_disputed_number_tell_it_without_each_record(book: Book) -> None:
    dam, sire = book.founder("F1", "female", "clear"), book.founder("M1", "male", "visual")
    book.clutch("C1", dam, sire, visual=1)
    dispute = m.Dispute.objects.get(closed=None)
    found = inference.grounds(dam, book.trait)
    figures = {one.text: one.without for one in found.disputed}
    assert len(figures) == len(dispute.conflict)
    # The statement wrong: she carries for certain. The young misread: she does not.
    assert figures["F1: does not carry it Saltgrass HAR, by a source not named"] == 1.0
    assert figures["1 hatchling of C1"] == 0.0
    assert found.working == ()
    assert found.no_working.startswith("There is no one working while records behind it")


def test_grounds_cost_the_same_queries_for_one_clutch_and_three(book: Book) -> None:
    dam, sire = (
        book.founder("F1", "female", "possible", "2/3"),
        book.founder("M1", "male", "visual"),
    )
    book.clutch("C1", dam, sire, normal=1)

    def asked() -> int:
        course = queries_of(lambda: inference.course(dam, book.trait))
        return course + queries_of(lambda: inference.grounds(dam, book.trait))

    before = asked()
    book.clutch("C2", dam, sire, normal=1)
    book.clutch("C3", dam, sire, normal=1)
    assert asked() == before
