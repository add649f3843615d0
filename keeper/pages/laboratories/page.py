"""What the page of a laboratory shows: its rates, its results and what each moved."""

from dataclasses import dataclass
from typing import Any

from keeper.domain.book.history import Revision, changes_of
from keeper.domain.laboratories import queries as read
from keeper.domain.laboratories.queries import Result, results
from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Laboratory

# So many results are listed; of more the newest.
_MOST = 100


@dataclass(frozen=True)
class Listed:
    """A laboratory in the list: its rates as they were typed, how many results count."""

    laboratory: Laboratory
    misses: str
    mistakes: str
    counted: int


@dataclass(frozen=True)
class LaboratoryPage:
    """A laboratory with its rates as they were typed, its results and its history.

    Attributes:
        results: the newest, as many as are listed.
        counted: how many there are.
    """

    laboratory: Laboratory
    misses: str
    mistakes: str
    results: tuple[Result, ...]
    counted: int
    revisions: tuple[Revision, ...]

    @property
    def is_sure(self) -> bool:
        """Whether one of its answers counts as certain."""
        return not (self.laboratory.misses and self.laboratory.mistakes)


def listed() -> tuple[Listed, ...]:
    """Return the laboratories that can be chosen, by name."""
    rows: Any = read.with_counts(Laboratory.objects.live())
    return tuple(
        Listed(one, as_typed(one.misses), as_typed(one.mistakes), one.counted) for one in rows
    )


def laboratory_page(laboratory: Laboratory) -> LaboratoryPage:
    """Return the page's data; the queries do not grow with the results."""
    rows = read.results_of(laboratory)
    return LaboratoryPage(
        laboratory=laboratory,
        misses=as_typed(laboratory.misses),
        mistakes=as_typed(laboratory.mistakes),
        results=results(list(rows[:_MOST])),
        counted=rows.count(),
        revisions=tuple(changes_of(laboratory)),
    )
