"""How a figure is said: a claim rounded down, what is against it rounded up.

Harm, losses, kinship, errors and the chance that is left after clean tests are never said to be
less than they are. Only what is certain is called so.
"""

from math import ceil, floor

from keeper.models import (
    Standing,
    Word,
)

# A sum of floats may lie a hair beside the whole percent that it means: 0.29 × 100 is
# 28.999999999999996. What is moved here is far below any figure's own meaning.
_HAIR = 1e-9


def percent(chance: float, *, certain: bool | None = None) -> str:
    """Return a chance in words of whole percents, rounded down (honesty rule 1).

    `certain` tells whether nothing else is possible; where it is not said, only exactly 1 is
    certain. "100 %" and "0 %" stand for certainty alone.
    """
    if chance <= 0:
        return "0 %"
    if certain or (certain is None and chance >= 1):
        return "100 %"
    whole = min(99, floor(chance * 100 + _HAIR))
    return f"{whole} %" if whole else "under 1 %"


def percent_up(chance: float) -> str:
    """Return a harm, a loss, an error or what is left of a doubt in whole percents, rounded up.

    "100 %" and "0 %" stand for certainty alone here too.
    """
    if chance <= 0:
        return "0 %"
    if chance >= 1:
        return "100 %"
    if chance * 100 > 99 + _HAIR:
        return "over 99 %"
    return f"{ceil(chance * 100 - _HAIR)} %" if chance * 100 >= 1 - _HAIR else "under 1 %"


def carries_percent(chance: float, word: str, *, certain: bool) -> str:
    """Return a chance of carrying: a claim, or what is left of it after clean tests."""
    return percent_up(chance) if word == Word.CLEAN else percent(chance, certain=certain)


def carrier_percent(standing: Standing) -> str:
    """Return the chance that the animal carries the trait or line."""
    chance = standing.two + standing.one
    return carries_percent(chance, standing.word, certain=standing.none == 0)


def by_sex(sons: float | None, daughters: float | None, *, harmful: bool = False) -> str:
    """Return what part of either sex looks so: "98 % of sons, 2 % of daughters".

    Nothing where the two are the same, or read the same.
    """
    if sons is None or daughters is None:
        return ""
    said = percent_up if harmful else percent
    of_sons, of_daughters = said(sons), said(daughters)
    return "" if of_sons == of_daughters else f"{of_sons} of sons, {of_daughters} of daughters"


# Wright's coefficient of kinship of the best known relations, from the closest.
_RELATIONS = (
    (0.25, "full sibs, or a parent and its young"),
    (0.125, "half-sibs"),
    (0.0625, "first cousins"),
    (0.015625, "second cousins"),
)


def kinship(coefficient: float) -> str:
    """Return a coefficient of kinship or inbreeding to four places, rounded up: "0.125"."""
    return f"{ceil(coefficient * 10_000 - _HAIR) / 10_000:.4f}".rstrip("0").rstrip(".")


def is_close_kin(coefficient: float) -> bool:
    """Whether a pair is as close as half-sibs: from there on it is said in ochre.

    Common practice, no source.
    """
    return coefficient >= 0.125 - _HAIR


def kinship_like(coefficient: float) -> str:
    """Return in words what relation a coefficient of kinship is like: "as of half-sibs"."""
    if coefficient <= 0:
        return "no ancestor in common in this book"
    closer = ""
    for step, words in _RELATIONS:
        if abs(coefficient - step) < _HAIR:
            return f"as of {words}"
        if coefficient > step:
            return f"closer than {words}"
        closer = words
    return f"more distant than {closer}"


def even_chances(bits: float) -> str:
    """Return how many even chances were passed, rounded down: "1.5", from 3 on whole.

    What is less than 0.1 is told so: "under 0.1".
    """
    if bits < 0.1 - _HAIR:
        return "under 0.1"
    if bits < 3 - _HAIR:
        tenths = floor(bits * 10 + _HAIR)
        return str(tenths // 10) if tenths % 10 == 0 else f"{tenths / 10:.1f}"
    return str(floor(bits + _HAIR))


def equivalents(number: float) -> str:
    """Return how many founders or animals something is worth, rounded down: "5.2"."""
    tenths = floor(number * 10 + _HAIR)
    return f"{tenths // 10}.{tenths % 10}"


def one_in(chance: float) -> str:
    """Return a chance above 0 as "1 in 500", rounded down; the thousands are set apart."""
    return f"1 in {_times(chance)}"


def once_in(chance: float) -> str:
    """Return how often a thing of a chance above 0 happens: "happens once in 500"."""
    return f"happens once in {_times(chance)}"


def _times(chance: float) -> str:
    return f"{floor(1 / chance + _HAIR):,}".replace(",", "\N{NO-BREAK SPACE}")
