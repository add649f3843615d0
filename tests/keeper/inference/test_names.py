"""An animal and a clutch may have one code: neither is blamed, read or asked for the other."""

import pytest

from genetics import answer_case
from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def child(book: Book, code: str, dam: m.Animal, sire: m.Animal, *, seen: bool) -> m.Animal:
    """A young whose parents are stated, without a clutch."""
    with writing(by=book.by, what=f"Added {code}") as entry:
        animal = entry.keep(m.Animal(species=book.species, code=code, dam=dam, sire=sire))
        book.look(entry, animal, seen=seen)
    return animal


def disputed() -> set[tuple[str, int]]:
    """The rows of the one dispute."""
    return {(one["model"], one["pk"]) for one in m.Dispute.objects.get(closed=None).conflict}


def look_of(animal: m.Animal) -> tuple[str, int]:
    return "observation", m.Observation.objects.get(animal=animal).pk


def test_a_dispute_over_a_clutchs_parents_names_the_clutch(book: Book) -> None:
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male")
    child(book, "C1", dam, sire, seen=False)
    clutch = book.clutch("C1", dam, sire)
    one = book.young("K1", clutch, seen=True)

    assert disputed() == {("clutch", clutch.pk), look_of(one)}


def test_a_dispute_over_an_animals_parents_names_the_animal(book: Book) -> None:
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male")
    book.clutch("C1", dam, sire, normal=2)
    one = child(book, "C1", dam, sire, seen=True)

    assert disputed() == {("animal", one.pk), look_of(one)}
    assert inference.differences() == []


def test_the_grounds_of_a_number_tell_its_parents_from_the_clutch(book: Book) -> None:
    # Either is a record of its own among the grounds: the animal's parents, and the clutch.
    dam = book.founder("F1", "female", "carries")
    sire = book.founder("M1", "male", "carries")
    clutch = book.clutch("C1", dam, sire, normal=3)
    one = child(book, "C1", dam, sire, seen=False)

    found = [each.record for each in inference.grounds(one, book.trait, None).grounds]
    assert [each for each in found if isinstance(each, m.Animal | m.Clutch)] == [one, clutch]


def test_a_familys_case_file_keeps_codes_and_tells_an_animal_from_a_clutch(book: Book) -> None:
    dam = book.founder("F1", "female", "carries")
    sire = book.founder("M1", "male", "carries")
    shared = book.clutch("C1", dam, sire, normal=1)
    plain = book.clutch("C2", dam, sire, normal=1)
    book.young("K1", shared)
    book.young("K2", plain)
    child(book, "C1", dam, sire, seen=False)

    case = inference.case_file(dam)

    assert [one["id"] for one in case["animals"]] == ["F1", "M1", "K1", "K2", "C1"]
    assert [one["id"] for one in case["clutches"]] == ["C1 (clutch)", "C2"]
    assert {one["id"]: one.get("clutch") for one in case["animals"][2:4]} == {
        "K1": "C1 (clutch)", "K2": "C2",
    }  # fmt: skip
    chances = answer_case(case)["posterior"]["K1"][book.line.locus.name]
    assert chances["+/HAR"] == pytest.approx(2 / 3)


def test_the_sire_of_a_clutch_is_asked_for_by_the_clutch(book: Book) -> None:
    dam = book.founder("F1", "female", "visual")
    sire, other = book.founder("M1", "male", "visual"), book.founder("M2", "male")
    clutch = book.clutch("C1", dam, sire, other, visual=1)
    child(book, "C1", dam, other, seen=False)

    assert inference.sire_chances(clutch) == {sire.pk: 1.0, other.pk: 0.0}


def test_kin_are_told_from_a_clutch_of_their_code(book: Book) -> None:
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    clutch = book.clutch("C1", dam, sire)
    one = book.young("K1", clutch, seen=None)
    with writing(by=book.by, what="Added") as entry:
        other = entry.keep(m.Animal(species=book.species, code="C1", dam=dam, sire=sire))

    assert inference.kinships([(one, other)]) == [0.25]
