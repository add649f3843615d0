"""Who may have brought a gene, for all carriers at once, and pedigrees kept by their content."""

import random
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.inference import Descent
from keeper.domain.inference.descent.known import Known
from keeper.domain.inference.descent.origins import Origins
from keeper.domain.inference.descent.parents import Parents
from keeper.domain.inference.questions.parentage import Sires
from keeper.domain.inference.reading.rows import Rows
from tests.keeper.books import Book


def pedigree(above: dict[int, frozenset[int]]) -> Known:
    number: Any = {pk: place for place, pk in enumerate(sorted(above))}
    of: Any = SimpleNamespace(number=number)
    return Known(frozenset(above), of, above, ("", Sires()))


def first(
    animal: int, above: dict[int, frozenset[int]], carriers: set[int], began: set[int]
) -> frozenset[int]:
    """The slow and obvious way."""
    parents = above[animal] & carriers if animal not in began else frozenset()
    if not parents:
        return frozenset({animal})
    return frozenset().union(*(first(one, above, carriers, began) for one in parents))


@pytest.mark.parametrize("seed", range(12))
def test_origins_are_those_found_animal_by_animal(seed: int) -> None:
    chance = random.Random(seed)
    # Ids that say nothing of who was first.
    pks = chance.sample(range(1, 900), 40)
    above = {
        pk: frozenset(chance.sample(pks[:place], chance.choice([0, 1, 2, 2, 3])))
        if place > 3
        else frozenset()
        for place, pk in enumerate(pks)
    }
    known = pedigree(above)
    number = known.of.number
    assert sorted(np.concatenate(known.generations).tolist()) == list(range(40))
    carriers = set(chance.sample(pks, 25))
    began = set(chance.sample(pks, 3))

    def numbers(animals: set[int]) -> "np.ndarray[Any, np.dtype[np.int64]]":
        return np.array([number[pk] for pk in animals], dtype=np.int64)

    found = Origins(known, numbers(carriers), numbers(began))
    for one in carriers:
        expected = first(one, above, carriers, began)
        assert found.among(numbers({one})) == [expected]
        assert found.number_of(numbers({one})) == len(expected)
    some = set(chance.sample(sorted(carriers), 10))
    told = {first(one, above, carriers, began) for one in some}
    assert sorted(map(sorted, found.among(numbers(some)))) == sorted(map(sorted, told))
    assert found.all_of(numbers(some)) == frozenset().union(*told)


def test_origins_of_nobody() -> None:
    nobody = np.zeros(0, dtype=np.int64)
    found = Origins(pedigree({7: frozenset()}), nobody, nobody)
    assert not found.among(nobody) and not found.all_of(nobody)
    assert found.number_of(nobody) == 0


# --- Kept ------------------------------------------------------------------------------------


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner, name="python")


@pytest.fixture
def young(book: Book) -> m.Animal:
    """Of one dam and one of two sires."""
    dam, sire = book.founder("F1", "female"), book.founder("M1", "male")
    other = book.founder("M2", "male")
    return book.young("K1", book.clutch("C1", dam, sire, other), seen=None)


def test_rows_are_those_that_all_else_reads(book: Book, young: m.Animal) -> None:
    gone = book.founder("M3", "male")
    dam, sire = (m.Animal.objects.get(code=code) for code in ("F1", "M1"))
    candidates: list[list[m.Animal | None]] = [[gone], [gone, sire], [None]]
    for number, sires in enumerate(candidates):
        book.young(f"Y{number}", book.clutch(f"D{number}", dam, *sires), seen=None)
    at = m.DaybookEntry.objects.order_by("-pk")[0].at
    m.Animal.objects.filter(pk__in=[gone.pk, dam.pk]).update(withdrawn_at=at)
    m.Clutch.objects.filter(code="D2").update(withdrawn_at=at)
    ours, usual = Parents(book.species.pk), Rows(book.species.pk)
    assert ours.animals == usual.animals and list(ours.animals) == list(usual.animals)
    assert ours.clutches == usual.clutches and list(ours.clutches) == list(usual.clutches)
    assert ours.with_several_sires == {
        pk for pk, one in usual.clutches.items() if len(one.sires) > 1
    }
    assert ours.living == set(ours.animals)


def test_pedigree_is_kept_while_its_rows_are_the_same(book: Book, young: m.Animal) -> None:
    before = Descent(book.species)._known
    # A name is no part of a pedigree.
    m.Animal.objects.filter(pk=young.pk).update(name="Pip")
    assert Descent(book.species)._known is before


@pytest.mark.parametrize(
    "change", ["sold", "withdrawn", "parents", "share", "no sire", "paternity"]
)
def test_pedigree_is_worked_out_anew_by_its_rows_alone(
    book: Book, young: m.Animal, change: str
) -> None:
    # Changed as no entry does it: what is kept goes by what is read, not by who wrote it.
    before = Descent(book.species)._known
    one, candidate = m.Animal.objects.filter(pk=young.pk), m.CandidateSire.objects.order_by("pk")
    match change:
        case "sold":
            one.update(status=m.Status.SOLD)
        case "withdrawn":
            one.update(withdrawn_at=before and m.DaybookEntry.objects.first().at)  # type: ignore[union-attr]
        case "parents":
            one.update(clutch=None, dam=None)
        case "share":
            m.CandidateSire.objects.filter(pk=candidate[0].pk).update(share="1/3")
        case "no sire":
            m.CandidateSire.objects.filter(pk=candidate[0].pk).delete()
        case _:
            m.Clutch.objects.update(paternity=m.Paternity.EACH)
    after = Descent(book.species)._known
    assert after is not before
    assert after.rests_on[0] != before.rests_on[0]


def test_pedigree_is_worked_out_anew_when_a_look_tells_the_sire(book: Book) -> None:
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male", "visual")
    other = book.founder("M2", "male")
    young = book.young("K1", book.clutch("C1", dam, sire, other), seen=None)
    before = Descent(book.species)
    with writing(by=book.by, what="Looked") as entry:
        book.look(entry, young, seen=True)
    after = Descent(book.species)
    # No row of the pedigree is another, and yet only the first can be its sire.
    assert after._known.rests_on[0] == before._known.rests_on[0]
    assert after.mean_kinships({young.pk: 1.0})[sire.pk] == pytest.approx(1 / 4)
    assert before.mean_kinships({young.pk: 1.0})[sire.pk] == pytest.approx(1 / 8)
