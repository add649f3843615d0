"""What a question of a page reads: as many queries in a large book, and the same answers."""

import random
from functools import partial

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference.questions import asking, pairs
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book
from tests.keeper.counting import queries_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def generations(book: Book, count: int) -> tuple[m.Animal, m.Animal]:
    """A family of so many generations in which nothing is certain: its youngest pair."""
    number = m.Animal.objects.count()
    dam = book.founder(f"D{number}", "female", "possible", "2/3")
    sire = book.founder(f"S{number}", "male", "possible", "1/2")
    for n in range(count):
        clutch = book.clutch(f"C{number}-{n}", dam, sire, normal=2)
        for k in range(3):
            book.young(f"K{number}-{n}-{k}", clutch, seen=False if k % 2 else None, sex="male")
        dam = book.young(f"G{number}-{n}", clutch, sex="female")
        sire = book.founder(f"M{number}-{n}", "male", "possible", "1/3")
    return dam, sire


def by_families(dam: m.Animal, sire: m.Animal) -> inference.Pairing:
    """The same answer, worked out from whole families with every hatchling for itself."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            pairs,
            "around",
            lambda species, animals: asking.families_of(species, {one.pk for one in animals}),
        )
        return inference.pairing(dam, sire)


def figures(given: inference.Pairing) -> list[float]:
    copies = sorted(given.young, key=lambda one: (one.trait, one.line or 0))
    looks = sorted(given.looks, key=lambda one: one.traits)
    return [
        *(p for one in looks for p in (one.chance, *one.at_least_one.values())),
        *(p for one in copies for p in (one.two, one.one, one.none)),
        given.lost,
        given.kinship,
    ]


def test_a_hatch_takes_as_many_queries_behind_many_generations(book: Book) -> None:
    costs = []
    for count in (3, 9):
        dam, sire = generations(book, count)
        hatched = partial(book.clutch, f"X{count}", dam, sire, normal=2)
        costs.append(queries_of(hatched))
    assert costs[0] == costs[1]


def agree(one: inference.Pairing, other: inference.Pairing) -> bool:
    return figures(one) == pytest.approx(figures(other), abs=1e-12) and (
        sorted(look.traits for look in one.looks),
        one.scored,
        one.conflict,
    ) == (sorted(look.traits for look in other.looks), other.scored, other.conflict)


def without_families(patch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("whole families were read")

    patch.setattr(asking, "families_of", refuse)


def test_a_pairing_takes_as_many_queries_in_a_long_pedigree(book: Book) -> None:
    short, long = generations(book, 2), generations(book, 9)
    inference.pairing(*short)  # whatever is put together once is by now
    assert queries_of(lambda: inference.pairing(*short)) == queries_of(
        lambda: inference.pairing(*long)
    )


def test_pairs_of_a_project_take_as_many_queries_in_a_long_pedigree(book: Book) -> None:
    project = m.Project.objects.create(species=book.species, name="Both", wanted=1)
    m.GoalPart.objects.create(project=project, trait=book.trait, need="shows")
    short, long = generations(book, 2), generations(book, 9)

    def asked(pair: tuple[m.Animal, m.Animal]) -> int:
        return queries_of(
            lambda: (inference.pair_goals(project, [pair]), inference.goal_chances(project, pair))
        )

    asked(short)
    assert asked(short) == asked(long)


def test_kinship_takes_as_many_queries_in_a_long_pedigree(book: Book) -> None:
    short, long = generations(book, 2), generations(book, 9)
    assert queries_of(lambda: inference.kinships([short])) == queries_of(
        lambda: inference.kinships([long])
    )


@pytest.mark.parametrize("seed", range(6))
def test_childless_young_counted_together_tell_what_each_tells(book: Book, seed: int) -> None:
    draw = random.Random(seed)
    dam, sire = generations(book, 3)
    for n in range(3):
        clutch = book.clutch(f"T{n}", dam, sire, normal=draw.randint(1, 3))
        for k in range(draw.randint(1, 5)):
            sex = draw.choice(["female", "male", "unknown"])
            young = book.young(f"T{n}-{k}", clutch, seen=draw.choice([None, False]), sex=sex)
            if draw.random() < 0.3:
                with writing(by=book.by, what="Looked again") as entry:
                    book.look(entry, young, seen=False)
    assert agree(inference.pairing(dam, sire), by_families(dam, sire))


def test_a_young_that_shows_it_proves_its_parents(book: Book) -> None:
    dam, sire = generations(book, 2)
    book.young("V1", book.clutch("V", dam, sire), seen=True)
    given = inference.pairing(dam, sire)
    (shown,) = (look for look in given.looks if look.traits)
    assert shown.chance == 0.25
    assert agree(given, by_families(dam, sire))


def clash(book: Book, code: str, *parents: m.Animal) -> None:
    book.young(f"{code}-1", book.clutch(code, *parents), seen=True)
    assert m.Dispute.objects.filter(closed=None).exists()


def test_a_dispute_in_another_family_leaves_a_pairing_as_it_is(book: Book) -> None:
    dam, sire = generations(book, 3)
    before = inference.pairing(dam, sire)
    clear = [book.founder(f"N{sex}", sex, "clear") for sex in ("female", "male")]
    clash(book, "B", *clear)
    with pytest.MonkeyPatch.context() as patch:
        without_families(patch)
        given = inference.pairing(dam, sire)
    assert given == before
    assert agree(given, by_families(dam, sire))


def test_a_dispute_of_another_trait_leaves_a_pairing_as_it_is(owner: m.Account) -> None:
    book = Book(owner)
    other = LineFactory.create(
        trait=TraitFactory.create(species=book.species, name="Sedge"), code="SED"
    )
    dam = book.founder("D", "female", "possible", "1/2", line=other)
    sire = book.founder("S", "male", "possible", "1/2", line=other)
    clash(book, "C", dam, sire)
    with pytest.MonkeyPatch.context() as patch:
        without_families(patch)
        given = inference.pairing(dam, sire)
    assert figures(given) == pytest.approx(figures(by_families(dam, sire)), abs=1e-12)


def test_a_dispute_among_their_own_kin_is_told(book: Book) -> None:
    dam = book.founder("D", "female", "clear")
    sire = book.founder("S", "male", "possible", "1/2")
    clash(book, "C", dam, sire)
    given = inference.pairing(dam, sire)
    assert given.conflict
    assert agree(given, by_families(dam, sire))


def test_disputes_elsewhere_take_as_many_queries_however_many(book: Book) -> None:
    pair = generations(book, 2)

    def another(n: int) -> None:
        clear = [book.founder(f"N{n}{sex}", sex, "clear") for sex in ("female", "male")]
        clash(book, f"B{n}", *clear)

    another(0)
    inference.pairing(*pair)
    one = queries_of(lambda: inference.pairing(*pair))
    for n in range(1, 6):
        another(n)
    assert queries_of(lambda: inference.pairing(*pair)) == one
