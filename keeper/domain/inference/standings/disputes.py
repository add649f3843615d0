"""Records that cannot all be true: which, and whose numbers depend on which of them is wrong.

A component whose evidence is impossible is solved as often as its conflict has records, each time
without one of them. What is the same every time does not depend on which is wrong and stands;
what is not is disputed. The figures shown meanwhile are those without the newest record, so the
last ones that were consistent.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

import genetics
from keeper.domain.inference.reading.engine_book import EngineBook
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.standings import copies
from keeper.domain.inference.standings.copies import Figure, Whose
from keeper.domain.inference.standings.sources import last_entries
from keeper.models import Dispute, Species

Answer = TypeVar("Answer")
Solve = Callable[[EngineBook], tuple[dict[Whose, Figure], "genetics.Solved"]]

# Figures that differ by less are the same: rounding of sums.
_SAME = 1e-9


@dataclass(frozen=True)
class Conflict:
    """Records of the engine that cannot all be true, with the rows behind them."""

    names: tuple[genetics.RecordName, ...]
    sources: tuple[Source, ...]


@dataclass
class Settled:
    """A component solved, conflicts set aside.

    Attributes:
        figures, solved, book: of the component without the newest record of each conflict; not
            solved here, where the answers came from elsewhere.
        conflicts: what was found.
        disputed: whose figures depend on a conflict.
        excluded: the rows of those newest records: no word rests on them either.
    """

    figures: dict[Whose, Figure]
    solved: "genetics.Solved | None"
    book: EngineBook
    conflicts: list[Conflict]
    disputed: dict[Whose, Conflict]
    excluded: frozenset[Source] = frozenset()


def settle(book: EngineBook, solve: Solve) -> Settled:
    """Solve a component; where its records cannot all be true, find out what that leaves open."""
    try:
        found, solved = solve(book)
    except genetics.ImpossibleEvidence:
        return _with_conflicts(book, solve)
    return Settled(found, solved, book, [], {})


def set_aside(book: EngineBook, known: Callable[[], frozenset[Source]]) -> Settled:
    """Set conflicts aside as `settle` does, for questions that need no figures.

    `known` is asked, where records cannot all be true, for the rows of conflicts that were found
    before (`conflicting`); among these the first is the one that a search through all would find,
    and they are few. Nothing known: all are searched.
    """
    try:
        return Settled({}, copies.solve(book), book, [], {})
    except genetics.ImpossibleEvidence:
        rows = known()
    names = genetics.records(book.population)
    among = [name for name in names if rows.issuperset(book.sources.get(name, ()))] if rows else []
    base, solved, dropped = _consistent(book, frozenset(names), copies.solve, among)
    return Settled({}, solved, base, [conflict for conflict, _ in dropped], {})


def conflicting(species: Species) -> frozenset[Source]:
    """The rows of the open disputes of a species."""
    open_ = Dispute.objects.filter(species=species, closed=None).values_list("conflict", flat=True)
    return frozenset((one["model"], one["pk"]) for conflict in open_ for one in conflict)


# A conflict, and the newest of its records.
_Dropped = tuple[Conflict, genetics.RecordName]


def _consistent(
    book: EngineBook,
    every: frozenset[genetics.RecordName],
    solve: Callable[[EngineBook], Answer],
    among: Collection[genetics.RecordName] = (),
) -> tuple[EngineBook, Answer, list[_Dropped]]:
    """The component without the newest record of each conflict, solved; and what was set aside."""
    entries = last_entries(source for rests in book.sources.values() for source in rests)
    dropped: list[_Dropped] = []
    while True:
        base = _without(book, every, {name for _, name in dropped})
        try:
            return base, solve(base), dropped
        except genetics.ImpossibleEvidence:
            names = genetics.smallest_conflict(base.population, among) if among else ()
            names = names or genetics.smallest_conflict(base.population)
            if not names:
                raise
            conflict = Conflict(names, _sources(book, names))
            dropped.append((conflict, max(names, key=lambda name: _age(book, name, entries))))


def _with_conflicts(book: EngineBook, solve: Solve) -> Settled:
    every = frozenset(genetics.records(book.population))
    base, (found, solved), dropped = _consistent(book, every, solve)
    disputed: dict[Whose, Conflict] = {}
    for conflict, newest in dropped:
        others = {name for other, name in dropped if other is not conflict}
        for name in conflict.names:
            if name == newest:
                continue
            try:
                other, _ = solve(_without(book, every, others | {name}))
            except genetics.ImpossibleEvidence:
                continue
            for whose in _different(found, other):
                disputed.setdefault(whose, conflict)
    for whose in disputed:
        # Without the newest record it carries nothing; yet that is what is in question.
        found.setdefault(whose, Figure(0.0, 0.0, 1.0))
    excluded = frozenset(_sources(book, [name for _, name in dropped]))
    return Settled(found, solved, base, [conflict for conflict, _ in dropped], disputed, excluded)


def _without(
    book: EngineBook, every: frozenset[genetics.RecordName], names: set[genetics.RecordName]
) -> EngineBook:
    if not names:
        return book
    return replace(book, population=genetics.kept_only(book.population, every - names))


def _sources(book: EngineBook, names: Iterable[genetics.RecordName]) -> tuple[Source, ...]:
    return tuple(sorted({source for name in names for source in book.sources.get(name, ())}))


def _age(
    book: EngineBook, name: genetics.RecordName, entries: Mapping[Source, int]
) -> tuple[int, int, int]:
    """Evidence after parents and papers, and of it what was written down or changed last."""
    sources = book.sources.get(name, ())
    kinds = {"animal": 0, "clutch": 0, "statement": 1, "arising": 1}
    return max(
        ((kinds.get(kind, 2), entries.get((kind, pk), 0), pk) for kind, pk in sources),
        default=(0, 0, 0),
    )


def _different(one: dict[Whose, Figure], other: dict[Whose, Figure]) -> set[Whose]:
    nothing = Figure(0.0, 0.0, 1.0)
    return {
        whose
        for whose in one.keys() | other.keys()
        if abs(one.get(whose, nothing).two - other.get(whose, nothing).two) > _SAME
        or abs(one.get(whose, nothing).none - other.get(whose, nothing).none) > _SAME
    }
