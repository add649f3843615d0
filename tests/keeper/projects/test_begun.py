"""Plans where a gene began with one of the animals: parents at the other loci, none there."""

from dataclasses import replace

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference import BreedingCourse
from keeper.domain.projects.offered import offer
from tests.keeper.projects.planning import TwoGenes, outlook_from, with_its_goal

COURSE = BreedingCourse(
    seasons=2, pairs=1, matings=1, places=None, eggs=8, hatch=1.0, lays=1.0, lives=1.0,
    mature_female=3, mature_male=3, runs=2_000,
)  # fmt: skip

# Of what begins one copy at least is there; at a frequency of 1 in 100 two are with
# 0.01² / (2 · 0.01 · 0.99 + 0.01²) = 1/199. Young of two hets show both in 1 of 16, of one that has
# two copies of the second in 1 of 8.
MET = {1 / 16: 198 / 199, 1 / 8: 1 / 199}


def one_at_least(hatchlings: int) -> float:
    """The chance that one of so many hatchlings at least shows both."""
    return sum(share * (1 - (1 - met) ** hatchlings) for met, share in MET.items())


@pytest.fixture
def book(owner: m.Account) -> TwoGenes:
    return TwoGenes(owner, sex_determination="ZW")


def mutant(book: TwoGenes) -> m.Animal:
    """K1, of a visual of the first gene and a normal male; the second gene began with it."""
    dam, sire = book.founder("F1", "female", "visual"), book.founder("M1", "male")
    young = book.hatchling("K1", book.clutch("C1", dam, sire), "female")
    with writing(by=book.by, what="Quillwort began with K1") as entry:
        entry.keep(m.Arising(animal=young, line=book.second))
    return young


def carries_both(book: TwoGenes) -> m.Animal:
    """A male of which a source says that he carries both."""
    male = book.founder("H1", "male", "carries")
    with writing(by=book.by, what="Said more of H1") as entry:
        book.say(entry, male, "carries", None, book.second)
    return male


def test_an_outlook_follows_what_began_and_what_was_given(book: TwoGenes) -> None:
    pair = (mutant(book), carries_both(book))
    found = outlook_from(book.project, dict.fromkeys(pair, 3), COURSE)
    assert found.exact
    assert found.chances == pytest.approx([one_at_least(8), one_at_least(16)])


def test_its_sister_has_nothing_of_what_began(book: TwoGenes) -> None:
    mutant(book)
    sister = book.hatchling("K2", m.Clutch.objects.get(code="C1"), "female")
    pair = (sister, carries_both(book))
    found = outlook_from(book.project, dict.fromkeys(pair, 3), COURSE)
    assert found.chances == (0.0, 0.0)


def test_ways_lead_through_it(book: TwoGenes) -> None:
    animals = [mutant(book), carries_both(book)]
    found = inference.ways(book.project, animals, generations=1, eggs=8, mature=3)
    (step,) = found.ways[0].steps
    assert step.chance == pytest.approx(one_at_least(1))
    assert step.clutch == pytest.approx(one_at_least(8))


def test_pairs_of_a_season_are_worth_what_their_own_page_says(book: TwoGenes) -> None:
    young, male = mutant(book), carries_both(book)
    found = inference.pair_gains(book.species, [book.project], [young], [male], 6)
    (own,) = inference.pair_goals(book.project, [(young, male)], eggs=(6,))
    assert found.goals[book.project.pk][0][0] == pytest.approx(own.at_least_one[6], abs=1e-12)
    assert own.at_least_one[6] == pytest.approx(one_at_least(6))


def test_an_outlook_with_one_bought_is_answered_too(book: TwoGenes) -> None:
    young = mutant(book)
    found = outlook_from(
        book.project, {young: 3}, replace(COURSE, seasons=5),
        bought=offer(with_its_goal(book), "male"),
    )  # fmt: skip
    assert found.chances[-1] > 0.4
