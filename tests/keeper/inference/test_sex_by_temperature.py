"""Where temperature decides the sex nothing takes sons and daughters to be even."""

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.saying.goals import sex_left_out
from keeper.pages.projects.pairs import pairs
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db
DAY = "2026-06-01"


def project(book: Book, sex: str) -> tuple[m.Project, m.Animal, m.Animal]:
    """A project after visuals of one sex, with two hets in it."""
    found = m.Project.objects.create(species=book.species, name="Saltgrass", sex=sex)
    m.GoalPart.objects.create(project=found, trait=book.trait)
    dam = book.founder("F1", "female", "carries")
    sire = book.founder("M1", "male", "carries")
    for animal in (dam, sire):
        m.Member.objects.create(project=found, animal=animal, since=DAY)
    return found, dam, sire


@pytest.mark.parametrize(
    ("decides", "sex", "each", "why"),
    [
        ("XY", "male", 1 / 8, ""),
        ("ZW", "female", 1 / 8, ""),
        ("TSD", "male", 1 / 4, "the warmth of the eggs decides it"),
        ("none", "male", 1 / 4, "what decides it is not known here"),
        ("TSD", "unknown", 1 / 4, ""),
    ],
)
def test_goal_of_one_sex_is_halved_where_chromosomes_decide_alone(
    owner: m.Account, decides: str, sex: str, each: float, why: str
) -> None:
    book = Book(owner, sex_determination=decides)
    wanted, dam, sire = project(book, sex)
    assert inference.pair_goal(wanted, dam, sire).each == pytest.approx(each)
    said = f"The sex is not in these chances: of {book.species} {why}." if why else ""
    assert (sex_left_out(wanted), pairs(wanted, everything=True).sex_left_out) == (said, said)


def test_standings_and_pairings_of_such_a_species_are_those_of_ordinary_chromosomes(
    owner: m.Account,
) -> None:
    book = Book(owner, sex_determination="TSD")
    dam = book.founder("F1", "female", "possible", "2/3")
    sire = book.founder("M1", "male", "visual")
    clutch = book.clutch("C1", dam, sire, normal=1)
    # 2/3 × 1/2 to 1/3: even.
    assert book.said(dam) == ("clean", "50 %")
    looks = inference.clutch_looks(clutch).looks
    assert {(one.sons, one.daughters) for one in looks} == {(None, None)}
    assert inference.differences() == []
