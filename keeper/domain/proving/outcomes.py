"""What a sale sheet could say of a possible carrier after a test, in the words of sheets."""

from copy import copy

from keeper.domain.saying.wording import said
from keeper.models import Standing, Statement, Word


def says_now(standing: Standing, statement: Statement | None = None) -> str:
    """Return what is said of it now, as on paper; `statement` is what its word rests on, if any."""
    return said(standing, statement, on_paper=True).words


def says_proven(standing: Standing, hatchlings: int = 1) -> str:
    """Return what could be said once so many hatchlings showed it.

    While a proof rests on one look at one hatchling, a sheet prints its figure instead.
    """
    proven = copy(standing)
    proven.word, proven.none, proven.two, proven.one = Word.PROVEN, 0.0, 0.0, 1.0
    proven.customary, proven.error = None, 0.0
    proven.proof_young, proven.proof_looks, proven.proof_clutches = hatchlings, hatchlings, 1
    return said(proven, on_paper=True).words


def says_clean(standing: Standing, hatchlings: int, remains: float) -> str:
    """Return what could be said after so many more hatchlings of which none showed it."""
    clean = copy(standing)
    carries = standing.carries
    clean.word, clean.none = Word.CLEAN, 1.0 - remains
    clean.two = standing.two / carries * remains if carries else 0.0
    clean.one = remains - clean.two
    clean.customary, clean.error = None, 0.0
    clean.clean_young = standing.clean_young + hatchlings
    return said(clean, on_paper=True).words
