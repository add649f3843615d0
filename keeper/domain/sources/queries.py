"""What is said of an animal: statements, laboratories’ results, papers."""

from collections.abc import Sequence
from dataclasses import dataclass

from keeper.domain.laboratories.queries import Result, results, tests_on
from keeper.domain.register.shares import shares_of
from keeper.domain.saying.figures import percent
from keeper.models import Animal, Line, Paper, SignedPaper, Statement


@dataclass(frozen=True)
class Spread:
    """The part of a line in a statement that names none."""

    line: Line
    share: str


@dataclass(frozen=True)
class SaidRow:
    """A statement, and how it counts for the lines of its trait if it names none."""

    statement: Statement
    spread: tuple[Spread, ...]


@dataclass(frozen=True)
class Sources:
    """Everything that somebody else says of an animal."""

    statements: tuple[SaidRow, ...]
    results: tuple[Result, ...]
    papers: tuple[Paper, ...]
    signed: tuple[SignedPaper, ...]


def sources_of(animal: Animal, statements: Sequence[Statement], papers: Sequence[Paper]) -> Sources:
    """Return them; the queries do not grow with what there is."""
    return Sources(
        statements=_said(statements),
        results=results(list(tests_on(animal))),
        papers=tuple(papers),
        signed=tuple(SignedPaper.objects.filter(animal=animal).select_related("source")),
    )


def _said(statements: Sequence[Statement]) -> tuple[SaidRow, ...]:
    unknown = {one.trait_id for one in statements if one.line_id is None}
    lines: dict[int, list[Line]] = {}
    if unknown:
        for line in Line.objects.live().filter(trait__in=unknown).order_by("code"):
            lines.setdefault(line.trait_id, []).append(line)
    return tuple(
        SaidRow(one, _spread(lines.get(one.trait_id, []) if one.line_id is None else []))
        for one in statements
    )


def _spread(lines: list[Line]) -> tuple[Spread, ...]:
    if len(lines) < 2:
        # There is nothing to spread over: it is the one line there is.
        return ()
    shares = shares_of(lines)
    return tuple(
        Spread(line, percent(float(share), certain=share == 1)) for line, share in shares.items()
    )
