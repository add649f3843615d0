"""The next free codes of a clutch's own series, however many are in use."""

import pytest

from keeper import models as m
from keeper.domain.clutches.queries import free_codes
from tests.factories import AnimalFactory, ClutchFactory


@pytest.fixture
def clutch(db: None) -> m.Clutch:
    return ClutchFactory.create(code="26-07")


def test_gaps_are_filled_first_and_case_does_not_matter(clutch: m.Clutch) -> None:
    clutch.code = "26-q"
    for code in ("26-Q-02", "26-q-04", "26-q-7"):
        AnimalFactory.create(species=clutch.species, code=code)
    assert free_codes(clutch, 3, ["26-Q-03"]) == ["26-q-01", "26-q-05", "26-q-06"]
    # 7 without its nought is another code.
    assert free_codes(clutch, 4, ["26-q-03"])[-1] == "26-q-07"


@pytest.mark.parametrize("number", [1, 60])
def test_a_clutch_may_be_larger_than_what_is_looked_at_at_first(
    clutch: m.Clutch, number: int
) -> None:
    for serial in range(1, 131):
        AnimalFactory.create(species=clutch.species, code=f"26-07-{serial:02}")
    assert free_codes(clutch, number) == [f"26-07-{n}" for n in range(131, 131 + number)]


def test_of_one_that_was_withdrawn_the_code_is_free(clutch: m.Clutch) -> None:
    gone = AnimalFactory.create(species=clutch.species, code="26-07-01")
    m.Animal.objects.filter(pk=gone.pk).update(withdrawn_at="2026-12-01T00:00Z")
    assert free_codes(clutch, 1) == ["26-07-01"]
    assert free_codes(clutch, 0) == []
