"""Lists are in the same order in SQLite and PostgreSQL: what is not known comes last."""

import pytest

from keeper.domain.animals.queries import clutches_of, papers_of, young_of
from keeper.domain.collection.queries import Filters, collection, with_rows
from keeper.models import Paper, Word
from keeper.pages.clutches.page import clutches_found
from tests.factories import AnimalFactory, ClutchFactory, ContactFactory, LineFactory
from tests.keeper.collection.rows import standing

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("order", "codes"),
    [
        ("", ["late", "early", "unknown"]),
        ("oldest", ["early", "late", "unknown"]),
        ("dam", ["early", "late", "unknown"]),
    ],
)
def test_order_of_clutches_has_days_not_known_last(order: str, codes: list[str]) -> None:
    ClutchFactory.create(code="unknown", dam=None, species=AnimalFactory.create().species)
    ClutchFactory.create(code="early", laid_on="2024-05-01", dam__code="A")
    ClutchFactory.create(code="late", laid_on="2026-05-01", dam__code="B")
    assert [one.code for one in clutches_found({"order": order})] == codes


def test_order_of_an_animals_own_lists_has_days_not_known_last() -> None:
    dam = AnimalFactory.create(code="A", sex="female")
    source = ContactFactory.create()
    for code, year in (("unknown", None), ("early", 2024), ("late", 2026)):
        day = f"{year}-05-01" if year else None
        ClutchFactory.create(code=code, dam=dam, species=dam.species, laid_on=day)
        AnimalFactory.create(code=code, dam=dam, species=dam.species, hatched_year=year)
        Paper.objects.create(animal=dam, source=source, dated=day, says=code)
    expected = ["late", "early", "unknown"]
    assert [one.code for one in clutches_of(dam)] == expected
    assert [one.code for one in young_of(dam)] == expected
    assert [one.says for one in papers_of(dam)] == expected


def test_order_of_standings_has_a_trait_before_its_lines() -> None:
    animal, line = AnimalFactory.create(), LineFactory.create()
    standing(animal, line, 1, Word.PROVEN)
    standing(animal, line.trait, 1, Word.PROVEN)
    [found] = with_rows(collection(Filters()))
    assert [one.line for one in found.standings.all()] == [None, line]
