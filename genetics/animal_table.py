"""Animals given field by field: a book held as columns needs no record for each animal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeVar, overload

from genetics.population import (
    NOTHING,
    Animal,
    FounderRow,
    Number,
    Retained,
    Sex,
    Sighting,
    Statement,
)


class AnimalTable(Sequence[Animal]):
    """Animals as one column a field of `Animal`, in place of a tuple of records.

    A column that is left out holds the field's default for every animal.  Records are made when
    they are read: one that is asked for by position each time anew, all of them once when they are
    walked through.  A table equals the tuple of its records and has the same hash.

    Args:
        id: the ids; every other column has as many values.
        sex, dam, sire, clutch, founder, founder_joint, shows, likelihood, retained, statements,
            begins: the fields of `Animal`.

    Raises:
        ValueError: a column has fewer or more values than there are ids.

    >>> table = AnimalTable(id=["D", "K"], dam=[None, "D"])
    >>> len(table), table[1].dam
    (2, 'D')
    """

    __slots__ = ("_columns", "_records")

    def __init__(
        self,
        *,
        id: Iterable[str],
        sex: Iterable[Sex] | None = None,
        dam: Iterable[str | None] | None = None,
        sire: Iterable[str | None] | None = None,
        clutch: Iterable[str | None] | None = None,
        founder: Iterable[Mapping[str, Mapping[str, Number]]] | None = None,
        founder_joint: Iterable[tuple[FounderRow, ...]] | None = None,
        shows: Iterable[Mapping[str, Sighting]] | None = None,
        likelihood: Iterable[Mapping[str, Mapping[str, Number]]] | None = None,
        retained: Iterable[Retained] | None = None,
        statements: Iterable[tuple[Statement, ...]] | None = None,
        begins: Iterable[tuple[str, ...]] | None = None,
    ) -> None:
        ids = tuple(id)
        self._records: tuple[Animal, ...] | None = None
        self._columns: tuple[tuple[Any, ...], ...] = (
            ids,
            _column("sex", sex, "unknown", len(ids)),
            _column("dam", dam, None, len(ids)),
            _column("sire", sire, None, len(ids)),
            _column("clutch", clutch, None, len(ids)),
            _column("founder", founder, NOTHING, len(ids)),
            _column("founder_joint", founder_joint, (), len(ids)),
            _column("shows", shows, NOTHING, len(ids)),
            _column("likelihood", likelihood, NOTHING, len(ids)),
            _column("retained", retained, 0, len(ids)),
            _column("statements", statements, (), len(ids)),
            _column("begins", begins, (), len(ids)),
        )

    @property
    def columns(self) -> tuple[tuple[Any, ...], ...]:
        """The columns in the order of the fields of `Animal`."""
        return self._columns

    def __len__(self) -> int:
        return len(self._columns[0])

    def __iter__(self) -> Iterator[Animal]:
        if self._records is None:
            self._records = _records(self._columns)
        return iter(self._records)

    @overload
    def __getitem__(self, index: int) -> Animal: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[Animal, ...]: ...
    def __getitem__(self, index: int | slice) -> Animal | tuple[Animal, ...]:
        if self._records is not None:
            return self._records[index]
        if isinstance(index, slice):
            return _records([column[index] for column in self._columns])
        return Animal._make([column[index] for column in self._columns])

    def __eq__(self, other: object) -> bool:
        if isinstance(other, AnimalTable):
            return self._columns == other._columns
        return tuple(self) == other if isinstance(other, tuple) else NotImplemented

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return f"<AnimalTable of {len(self)} animals>"


Value = TypeVar("Value")


def _column(
    name: str, values: Iterable[Value] | None, default: Value, size: int
) -> tuple[Value, ...]:
    if values is None:
        return (default,) * size
    column = tuple(values)
    if len(column) != size:
        raise ValueError(f"{name}: {len(column)} values; expected {size}, as many as ids")
    return column


def _records(columns: Sequence[Sequence[Any]]) -> tuple[Animal, ...]:
    return tuple(map(Animal._make, zip(*columns, strict=True)))
