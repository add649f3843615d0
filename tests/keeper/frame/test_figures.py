"""How figures are rounded: claims down, what is against them up."""

import pytest

from keeper.domain.inference.standings.values import Values, seems_moved
from keeper.domain.saying import strips
from keeper.domain.saying.figures import carrier_percent, kinship, kinship_like, percent, percent_up
from keeper.models import Standing, Word


@pytest.mark.parametrize(
    ("chance", "down", "up"),
    [
        (0.0, "0 %", "0 %"),
        (0.004, "under 1 %", "under 1 %"),
        (0.01, "1 %", "1 %"),
        (0.0101, "1 %", "2 %"),
        (0.29, "29 %", "29 %"),
        (0.1 + 0.2, "30 %", "30 %"),
        (0.294, "29 %", "30 %"),
        (0.99, "99 %", "99 %"),
        (0.9999, "99 %", "over 99 %"),
        (1.0, "100 %", "100 %"),
    ],
)
def test_claims_are_rounded_down_and_harm_up(chance: float, down: str, up: str) -> None:
    assert (percent(chance), percent_up(chance)) == (down, up)


@pytest.mark.parametrize(
    ("word", "figure"), [(Word.CLEAN, "5 %"), (Word.POSSIBLE, "4 %"), (Word.STATED, "4 %")]
)
def test_what_is_left_after_clean_tests_is_rounded_up_wherever_it_stands(
    word: Word, figure: str
) -> None:
    assert carrier_percent(Standing(two=0, one=0.041, none=0.959, word=word)) == figure


def test_figure_that_is_left_moves_where_it_is_read_to_move() -> None:
    def left(chance: float, word: Word) -> Values:
        return Values(0.0, chance, 1 - chance, 0.0, 0.0, None, word.value, 3, 0, 0, 0, None)

    # 4.2 % and 4.6 % read the same in either rounding; 3.9 % and 4.0 % differ by one each.
    assert not seems_moved(left(0.042, Word.CLEAN), left(0.046, Word.CLEAN))
    assert seems_moved(left(0.039, Word.POSSIBLE), left(0.04, Word.POSSIBLE))
    assert not seems_moved(left(0.039, Word.CLEAN), left(0.04, Word.CLEAN))
    assert seems_moved(left(0.04, Word.CLEAN), left(0.041, Word.CLEAN))


def test_customary_figure_that_reads_no_higher_is_not_set_beside_what_is_left() -> None:
    standing = Standing(two=0, one=0.665, none=0.335, word=Word.CLEAN, customary=2 / 3)
    assert strips.strip(standing).marker is None


@pytest.mark.parametrize(
    ("coefficient", "figure", "words"),
    [
        (0.0, "0", "no ancestor in common in this book"),
        (0.25, "0.25", "as of full sibs, or a parent and its young"),
        (0.125, "0.125", "as of half-sibs"),
        (0.0625, "0.0625", "as of first cousins"),
        (0.015625, "0.0157", "as of second cousins"),
        (0.09375, "0.0938", "closer than first cousins"),
    ],
)
def test_kinship_is_one_coefficient_rounded_up(coefficient: float, figure: str, words: str) -> None:
    assert (kinship(coefficient), kinship_like(coefficient)) == (figure, words)
