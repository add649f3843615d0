"""What a pedigree looks like: rows, the standard's lines, and nothing that lies on anything."""

import itertools

import pytest

from keeper.domain.pedigree.graph import Pedigree, Union
from keeper.domain.pedigree.layout import Drawn, Line, Sizes, layout
from tests.keeper.pedigree import drawings
from tests.keeper.pedigree.drawings import NAMED, at_random, family, pedigree

SIZES = Sizes()


def drawn(of: Pedigree) -> Drawn:
    return layout(of, SIZES)


def lines(of: Drawn, kind: str, at: int) -> list[Line]:
    return [one for one in of.lines if one.kind == kind and one.family == at]


def height(of: Drawn, key: str) -> float:
    return of.at[key][1]


SOME = {**NAMED, **{f"random {seed}": at_random(40, seed) for seed in range(6)}}


@pytest.mark.parametrize("name", SOME)
def test_young_stand_in_a_row_below_their_parents_and_sibs_in_one(name: str) -> None:
    of, made = SOME[name], layout(SOME[name], SIZES)
    for one in of.families:
        rows = {height(made, key) for key in one.young}
        assert len(rows) == 1
        assert all(height(made, up) < min(rows) for union in one.unions for up in union.parents)


@pytest.mark.parametrize("name", SOME)
def test_nothing_lies_on_anything_else(name: str) -> None:
    made = layout(SOME[name], SIZES)
    assert drawings.on_another(made) == []
    middles = sorted((y, x) for x, y in made.at.values())
    assert all(
        y != below or right - x >= SIZES.width
        for (y, x), (below, right) in itertools.pairwise(middles)
    )
    assert drawings.through_symbols(made, SIZES.symbol) == []


@pytest.mark.parametrize("name", SOME)
def test_every_line_is_on_the_paper_and_ends_where_it_should(name: str) -> None:
    of, made = SOME[name], layout(SOME[name], SIZES)
    for line in made.lines:
        assert all(0 <= x <= made.width and 0 <= y <= made.height for x, y in line.points)
    for at, one in enumerate(of.families):
        for key, line in zip(one.young, lines(made, "young", at), strict=True):
            assert line.points[-1] == made.at[key]
        couples = [union for union in one.unions if len(union.parents) == 2]
        for union, line in zip(couples, lines(made, "couple", at), strict=True):
            ends = {line.points[0], line.points[-1]}
            for key in union.parents:
                x, y = made.at[key]
                assert any(
                    end_x == x and abs(end_y - y) <= SIZES.symbol / 2 for end_x, end_y in ends
                )


@pytest.mark.parametrize("name", SOME)
def test_each_family_hangs_together(name: str) -> None:
    of, made = SOME[name], layout(SOME[name], SIZES)
    for at, one in enumerate(of.families):
        (track,) = {line.points[0][1] for line in lines(made, "young", at)}
        sibs = lines(made, "sibs", at)
        left, right = (sibs[0].points[0][0], sibs[0].points[-1][0]) if sibs else (0, made.width)
        stems = lines(made, "descent", at)
        assert len(stems) == len(one.unions)
        for stem in stems:
            assert stem.points[-1][1] == track
            assert left <= stem.points[-1][0] <= right
        assert all(left <= line.points[0][0] <= right for line in lines(made, "young", at))


def test_a_sire_stands_among_his_eight_dams() -> None:
    made = drawn(drawings.EIGHT_DAMS)
    assert len({height(made, key) for key in ("S", *(f"D{at}" for at in range(8)))}) == 1
    left = [at for at in range(8) if made.at[f"D{at}"][0] < made.at["S"][0]]
    assert len(left) == 4
    assert drawings.crossings(made) == 0


def test_a_sire_on_his_granddaughter_is_a_loop_drawn_double() -> None:
    made = drawn(drawings.ON_HIS_GRANDDAUGHTER)
    assert list(made.at).count("S") == 1
    (loop,) = lines(made, "couple", 2)
    assert loop.related
    assert height(made, "S") < height(made, "a") < height(made, "g") < height(made, "z")
    assert not any(line.related for at in (0, 1) for line in lines(made, "couple", at))
    assert drawings.crossings(made) == 0


def test_two_candidate_sires_are_two_broken_lines_of_descent() -> None:
    made = drawn(drawings.TWO_SIRES)
    assert [line.doubtful for line in lines(made, "descent", 0)] == [True, True]
    assert len(lines(made, "couple", 0)) == 2
    assert not any(line.doubtful for line in made.lines if line.kind != "descent")
    assert len(lines(made, "sibs", 0)) == 1
    assert made.at["S"][0] < made.at["D"][0] < made.at["T"][0]


def test_a_certain_sire_has_an_unbroken_line() -> None:
    made = drawn(pedigree(family("S×D", "a")))
    assert [line.doubtful for line in lines(made, "descent", 0)] == [False]


def test_young_of_a_dam_alone_hang_from_her_alone() -> None:
    made = drawn(drawings.DAM_ALONE)
    assert lines(made, "couple", 0) == []
    (stem,) = lines(made, "descent", 0)
    assert stem.points[0][0] == made.at["D"][0]


def test_sibs_stand_in_their_order_where_that_costs_nothing() -> None:
    made = drawn(pedigree(family("S×D", *"abcdefg")))
    assert made.rows[1] == tuple("abcdefg")


def test_mates_stand_beside_each_other_in_the_row_of_the_younger() -> None:
    # A founder's mates of two generations: it stands with the older, her own parents above her.
    made = drawn(
        pedigree(family("A×B", "c"), family("E×c", "d"), family("G×H", "k"), family("d×k", "z"))
    )
    assert height(made, "E") == height(made, "c")
    assert height(made, "k") == height(made, "d")
    assert height(made, "G") == height(made, "c")


def test_relatives_are_those_with_an_ancestor_in_common_or_of_one_line() -> None:
    cousins = drawings.COUSINS
    assert cousins.related(Union(("f", "h")))
    assert cousins.related(Union(("A", "f")))
    assert not cousins.related(Union(("G", "d")))
    assert not cousins.related(Union(("G",)))


def test_one_animal_and_none() -> None:
    assert drawn(Pedigree(("x",), ())).rows == (("x",),)
    assert drawn(Pedigree((), ())).at == {}


def test_two_thousand_in_one_line_of_descent_can_be_drawn() -> None:
    # No step of it goes as deep as a pedigree.
    long = pedigree(*(family(f"a{at}", f"a{at + 1}") for at in range(2000)))
    assert len(drawn(long).rows) == 2001
