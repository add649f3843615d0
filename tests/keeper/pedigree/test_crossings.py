"""How few lines cross: as few as can be on small pedigrees, fewer than by chance on large ones."""

import pytest

from keeper.domain.pedigree.layout import Sizes, layout
from tests.keeper.pedigree import drawings
from tests.keeper.pedigree.drawings import NAMED, any_orders, at_random, crossings, every_order

SMALL = {
    name: NAMED[name]
    for name in (
        *("on his granddaughter", "two sires", "dam alone", "three ways", "cousins", "sibs"),
        "crossed",
    )
}
# Those of many that a first order does not draw with the fewest.
SMALL |= {f"random 8, {seed}": at_random(8, seed, founders=4) for seed in (26, 29)}


@pytest.mark.parametrize("name", SMALL)
def test_small_pedigrees_have_the_fewest_crossings_of_all_orders(name: str) -> None:
    fewest = min(crossings(one) for one in every_order(SMALL[name]))
    assert crossings(layout(SMALL[name], Sizes())) == fewest


@pytest.mark.parametrize("name", ["eight dams", "ancestors", "cousins", "on his granddaughter"])
def test_what_can_be_drawn_without_a_crossing_is(name: str) -> None:
    assert crossings(layout(NAMED[name], Sizes())) == 0


@pytest.mark.parametrize("seed", range(5))
def test_large_pedigrees_have_fewer_than_the_best_of_many_random_orders(seed: int) -> None:
    of = at_random(60, seed)
    best = min(crossings(one) for one in any_orders(of, 60, seed))
    assert crossings(layout(of, Sizes())) < best


def test_the_measure_counts_a_crossing() -> None:
    # Two couples whose young stand the other way round: their sibship lines must cross.
    of = drawings.pedigree(drawings.family("A×B", "c"), drawings.family("E×F", "g"))
    straight = layout(of, Sizes(), [["A", "B", "E", "F"], ["c", "g"]])
    swapped = layout(of, Sizes(), [["A", "B", "E", "F"], ["g", "c"]])
    entwined = layout(of, Sizes(), [["A", "E", "B", "F"], ["c", "g"]])
    assert crossings(straight) == 0
    assert crossings(swapped) == 1
    assert crossings(entwined) > 0
