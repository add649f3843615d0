"""Founders and mean kinship of the animals here, by what is known of who sired what."""

from datetime import date

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference import Descent
from tests.keeper.books import Book
from tests.keeper.counting import queries_of


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner, name="python")


def settle(book: Book, animal: m.Animal, status: str) -> None:
    with writing(by=book.by, what="Moved") as entry:
        animal.status = status
        entry.keep(animal)


def test_mean_kinship_with_all_that_live_here(book: Book) -> None:
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    clutch = book.clutch("C1", dam, sire)
    young = [book.young(f"K{n}", clutch, seen=None) for n in (1, 2)]
    stranger = book.founder("F2", "female")

    # F1: itself 1/2, M1 0, each young 1/4, F2 0: 1 of 5. A young: parents 1/4 each, itself 1/2,
    # its sib 1/4: 5/4 of 5.
    assert inference.mean_kinships([dam, *young, stranger]) == {
        dam.pk: pytest.approx(1 / 5),
        young[0].pk: pytest.approx(1 / 4),
        young[1].pk: pytest.approx(1 / 4),
        stranger.pk: pytest.approx(1 / 10),
    }


def test_sold_and_dead_animals_count_as_ancestors_alone(book: Book) -> None:
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    young = book.young("K1", book.clutch("C1", dam, sire), seen=None)
    settle(book, dam, "sold")
    settle(book, sire, "died")

    descent = Descent(book.species)
    assert descent.living == {young.pk}
    # Half of each founder's genes: one whole founder.
    (group,) = descent.groups([{young.pk: 1.0}])
    assert group is not None
    assert group.shares == {dam.pk: 0.5, sire.pk: 0.5}
    assert (group.equivalents, group.genomes, group.mean) == (2, 1, 0.5)
    # They are asked about all the same.
    assert inference.mean_kinships([dam]) == {dam.pk: pytest.approx(1 / 4)}


def test_nobody_living_is_kin_of_nobody(book: Book) -> None:
    dam = book.founder("F1", "female")
    settle(book, dam, "sold")
    assert inference.mean_kinships([dam]) == {dam.pk: 0.0}
    assert inference.mean_kinships([]) == {}
    assert Descent(book.species).groups([{}]) == [None]


def test_hatchlings_of_a_clutch_share_a_sire_without_a_record(book: Book) -> None:
    dam = book.founder("F1", "female")
    clutch = book.clutch("C1", dam)
    young = [book.young(f"K{n}", clutch, seen=None) for n in (1, 2)]
    other = book.young("K3", book.clutch("C2", dam), seen=None)

    descent = Descent(book.species)
    (group,) = descent.groups([{one.pk: 1.0 for one in (*young, other)}])
    assert group is not None
    assert group.shares == {dam.pk: pytest.approx(1 / 2)}
    assert sorted(group.unrecorded) == pytest.approx([1 / 6, 1 / 3])
    assert descent.mean_kinships({young[1].pk: 1.0})[young[0].pk] == pytest.approx(1 / 4)
    assert descent.mean_kinships({other.pk: 1.0})[young[0].pk] == pytest.approx(1 / 8)


def test_parentage_is_as_likely_as_all_that_hatched_says(book: Book) -> None:
    # After three normal young of a visual dam a certain carrier is the sire with 1/9.
    dam = book.founder("F1", "female", "visual")
    het, normal = book.founder("M1", "male", "carries"), book.founder("M2", "male")
    clutch = book.clutch("C1", dam, het, normal, normal=2)
    young = book.young("K1", clutch)

    means = Descent(book.species).mean_kinships({young.pk: 1.0})
    assert means[het.pk] == pytest.approx(1 / 4 * 1 / 9)
    assert means[normal.pk] == pytest.approx(1 / 4 * 8 / 9)
    assert means[dam.pk] == pytest.approx(1 / 4)
    # What hatches of the dam and her sire's candidate: F of a clutch is the mean over them.
    back = book.clutch("C2", dam, het)
    assert Descent(book.species).of_clutches() == {clutch.pk: 0, back.pk: 0}


def test_each_egg_has_a_sire_of_its_own(book: Book) -> None:
    dam = book.founder("F1", "female", "visual")
    het, normal = book.founder("M1", "male", "carries"), book.founder("M2", "male")
    with writing(by=book.by, what="Hatched C1") as entry:
        clutch = entry.keep(
            m.Clutch(species=book.species, code="C1", dam=dam, paternity=m.Paternity.EACH)
        )
        for sire in (het, normal):
            entry.keep(m.CandidateSire(clutch=clutch, sire=sire))
    shows, clean = book.young("K1", clutch, seen=True), book.young("K2", clutch)

    descent = Descent(book.species)
    # The visual is the carrier's for certain; of a normal one he is half as likely as the other.
    assert descent.mean_kinships({shows.pk: 1.0})[het.pk] == pytest.approx(1 / 4)
    assert descent.mean_kinships({clean.pk: 1.0})[het.pk] == pytest.approx(1 / 4 * 1 / 3)
    # Of one dam, and of one sire with 1/3: 1/8 and a third of 1/8.
    assert descent.mean_kinships({shows.pk: 1.0})[clean.pk] == pytest.approx(1 / 6)


def test_young_of_the_dam_alone_are_inbred(book: Book) -> None:
    dam = book.founder("F1", "female")
    with writing(by=book.by, what="Hatched C1") as entry:
        clutch = entry.keep(m.Clutch(species=book.species, code="C1", dam=dam))
        entry.keep(m.CandidateSire(clutch=clutch, alone=True))
    young = book.young("K1", clutch, seen=None)
    descent = Descent(book.species)
    assert descent.of_clutches() == {clutch.pk: 1}
    assert descent.of_animals() == {dam.pk: 0, young.pk: 1}
    assert descent.mean_kinships({dam.pk: 1.0})[young.pk] == pytest.approx(1 / 2)


def test_pairs_are_as_inbred_as_they_are_kin(book: Book) -> None:
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    clutch = book.clutch("C1", dam, sire)
    daughter = book.young("K1", clutch, seen=None, sex="female")
    son = book.young("K2", clutch, seen=None, sex="male")
    asked = [(daughter.pk, son.pk), (dam.pk, sire.pk), (dam.pk, son.pk)]
    descent = Descent(book.species)
    assert descent.pairs(asked) == dict(zip(asked, (1 / 4, 0, 1 / 4), strict=True))
    assert descent.pairs([]) == {}
    assert inference.kinships([(daughter, son), (dam, sire), (dam, son)]) == [0.25, 0, 0.25]


def test_it_takes_as_many_queries_whatever_the_number_of_animals(book: Book) -> None:
    dam = book.founder("F1", "female", "visual")
    sires = [book.founder(f"M{n}", "male", "carries") for n in (1, 2)]

    def litter(number: int) -> None:
        clutch = book.clutch(f"C{number}", dam, *sires, normal=1)
        for n in range(number):
            book.young(f"K{number}-{n}", clutch)

    def ask() -> None:
        descent = Descent(book.species)
        descent.groups([dict.fromkeys(descent.living, 1.0)])
        descent.of_clutches()

    litter(1)
    few = queries_of(ask)
    for number in (2, 3, 4):
        litter(number)
    assert queries_of(ask) == few


def test_effective_size_is_asked_of_the_engine() -> None:
    days = [date(2020 + n, 1, 1).year for n in range(4)]
    rise = [1 - (7 / 8) ** n for n in range(4)]
    assert inference.effective_size(days, rise, generation=1) == pytest.approx(4)


def test_kinship_of_pairs_goes_by_what_hatched(book: Book) -> None:
    # Entered as even; a visual young of a het dam says that the visual male is the sire.
    dam = book.founder("F1", "female", "carries")
    right, wrong = book.founder("M1", "male", "visual"), book.founder("M2", "male")
    clutch = book.clutch("C1", dam, right, wrong)
    young = book.young("K1", clutch, seen=True, sex="female")
    assert inference.kinships([(young, right), (young, wrong)]) == pytest.approx([0.25, 0.0])
