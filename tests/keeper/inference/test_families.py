"""Families that are walked to are those that the rows of all of the species give.

After random days with every kind of record: whom a question is about, in the very words of the
engine. In a book of several generations: what each record weighs, where distant hatchlings are
counted and where each is asked about.
"""

import random
from typing import Any

import pytest

from keeper import models as m
from keeper.domain.inference.questions import asking
from keeper.domain.inference.questions.asking import families_of
from keeper.domain.inference.reading.carriers import apart
from keeper.domain.inference.reading.engine_book import engine_book
from keeper.domain.inference.walking import families
from keeper.domain.inference.workings import weighing
from tests.factories import TraitFactory
from tests.keeper.books import Book
from tests.keeper.inference.test_always import Day


def whole(*_: Any, **__: Any) -> None:
    """In place of the walk: the species is read whole."""
    return


def asked_of(animal: m.Animal, traits: list[int] | None) -> tuple[bool, list[Any]]:
    """Whether the families were walked to, and the populations that a question is put to."""
    of, part, pks = asking._components(animal.species, [animal.pk], traits, {})
    books = [engine_book(of.inheritance, of.rows, one, also=pks) for one in apart(of.rows, part)]
    walked = isinstance(of.rows, families.FamilyRows)
    return walked, [(one.population, one.sources, dict(one.groups)) for one in books]


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(4))
def test_families_are_those_of_the_whole_species(
    owner: m.Account, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    day, walked = Day(owner, seed), 0
    day.live(50)
    for animal in m.Animal.objects.select_related("species").order_by("pk"):
        for traits in ([day.draw.choice(day.traits).pk], None):
            near, there = asked_of(animal, traits)
            with monkeypatch.context() as patch:
                patch.setattr(asking, "family_rows", whole)
                assert asked_of(animal, traits) == (False, there)
            walked += near
    assert walked > 10


@pytest.mark.django_db
def test_an_animal_at_whose_loci_nothing_is_decided_has_no_families(owner: m.Account) -> None:
    book = Book(owner)
    animal = book.founder("F1", "female", "carries")
    plain = TraitFactory.create(species=book.species, name="Fogbell")
    assert families_of(book.species, [animal.pk], [plain.pk]).subproblems == []


class Years(Book):
    """Five generations of a recessive gene; what is seen is what they are."""

    def __init__(self, by: m.Account, seed: int) -> None:
        super().__init__(by)
        self.draw = random.Random(seed)
        self.copies: dict[m.Animal, int] = {}
        for n, (claim, chance, copies) in enumerate(
            [("visual", None, 2), ("possible", "2/3", 1), ("", None, 0), ("carries", None, 1)]
        ):
            for sex in ("female", "male"):
                animal = self.founder(f"{sex[0]}{n}", sex, claim, chance)
                self.copies[animal] = copies
        for number in range(14):
            self.breed(f"C{number}")

    def breed(self, code: str) -> None:
        """A clutch of some pair; some of what hatches is counted, some has records."""
        dam, sire = (
            self.draw.choice([one for one in self.copies if one.sex == sex])
            for sex in ("female", "male")
        )
        young = [self.drawn(dam) + self.drawn(sire) for _ in range(6)]
        looks = [("normal", "visual")[copies == 2] for copies in young[:2]]
        clutch = self.clutch(code, dam, sire, **{look: looks.count(look) for look in set(looks)})
        for n, copies in enumerate(young[2:]):
            sex = ("female", "male")[n % 2]
            seen = self.draw.choice([None, copies == 2, copies == 2])
            self.copies[self.young(f"{code}-{n}", clutch, seen=seen, sex=sex)] = copies

    def drawn(self, parent: m.Animal) -> int:
        return int(self.draw.random() * 2 < self.copies[parent])


def figure_of(animal: m.Animal, trait: m.Trait, *, counted: bool) -> weighing._Figure | None:
    asked = families_of(animal.species, [animal.pk], [trait.pk], counted=counted)
    found = weighing._asked_of(asked, animal, trait, None)
    return None if found is None else weighing._Figure.of(*found, animal)


def weights(figure: weighing._Figure) -> dict[Any, float | None]:
    """The chance, and what it is without each item of evidence."""
    return {
        (one.source, one.hatchlings, one.parents): figure.knowing(figure.names - one.names)
        for one in (*figure.listed, *figure.further)
    } | {"now": figure.now.carries}


def order(figure: weighing._Figure) -> list[Any]:
    """What is weighed singly, and how far it is."""
    return [(one.source, one.far) for one in figure.listed]


@pytest.mark.django_db
def test_what_is_counted_weighs_the_same(owner: m.Account, monkeypatch: pytest.MonkeyPatch) -> None:
    book, fewer = Years(owner, 1), 0
    for animal in list(book.copies)[::5]:
        every = figure_of(animal, book.trait, counted=False)
        counted = figure_of(animal, book.trait, counted=True)
        if every is None or counted is None:
            assert every is counted
            continue
        fewer += len(counted.book.animals) < len(every.book.animals)
        assert order(counted) == order(every)
        assert weights(counted) == pytest.approx(weights(every), abs=1e-9)
    assert fewer > 3
