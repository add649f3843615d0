"""Queries put together once and asked many times, each time of other ids.

A walk through the book asks the same few questions at every step. For a question to a few rows,
putting the query together costs ten times what the database takes to answer it.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.db import connection
from django.db.models import Model, QuerySet

Record = TypeVar("Record", bound=Model)

# Stands for the ids while the query is put together; no row has it.
_ANY = -9_223_372_036_854_775_807

# So many ids are named in one query: databases limit what one may name.
AT_ONCE = 2000


@dataclass(frozen=True)
class _Made:
    """A query in the words of one kind of database.

    Attributes:
        texts: its text, cut where the ids are named.
        given: the other parameters in each of these.
        converters: place of a column, and what turns it into the value of its field.
    """

    texts: tuple[str, ...]
    given: tuple[tuple[Any, ...], ...]
    converters: tuple[tuple[int, tuple[Callable[..., Any], ...], Any], ...]

    def fetched(self, ids: Sequence[int]) -> Iterator[tuple[Any, ...]]:
        """The rows that these ids name."""
        params = [*self.given[0]]
        for more in self.given[1:]:
            params += [*ids, *more]
        with connection.cursor() as cursor:
            cursor.execute(", ".join(["%s"] * len(ids)).join(self.texts), params)
            rows = cursor.fetchall()
        return (self._converted(row) for row in rows) if self.converters else iter(rows)

    def _converted(self, row: Sequence[Any]) -> tuple[Any, ...]:
        values = list(row)
        for place, converters, column in self.converters:
            for convert in converters:
                values[place] = convert(values[place], column, connection)
        return tuple(values)


class Prepared:
    """A query for values of the rows that some ids name.

    `ask` makes the query for a list of ids, which it may use more than once, as by `pk__in=ids`;
    the rows come with the values that it lists, and in the order that it names, not in that of the
    model. What is named by more than `AT_ONCE` ids comes in parts, each in that order.

    With `as_stored` values come as the database's driver gives them: a moment may be a text, a
    truth 0 or 1. It is for values of which is asked alone whether there is one, and whether it is
    true, in many rows.
    """

    def __init__(
        self, ask: Callable[[list[int]], QuerySet[Any, Any]], *, as_stored: bool = False
    ) -> None:
        self._ask, self._as_stored = ask, as_stored
        self._made: dict[str, _Made] = {}

    def rows(self, ids: Iterable[int]) -> Iterator[tuple[Any, ...]]:
        """Return the rows that these ids name; none for none."""
        made = self._made.get(connection.vendor)
        if made is None:
            made = self._made[connection.vendor] = self._make()
        wanted = list(ids)
        for start in range(0, len(wanted), AT_ONCE):
            yield from made.fetched(wanted[start : start + AT_ONCE])

    def _make(self) -> _Made:
        query = self._ask([_ANY]).query
        query.default_ordering = False
        compiler: Any = query.get_compiler(connection=connection)
        sql, params = compiler.as_sql()
        first, *rest = sql.split("%s")
        texts, given = [first], list[list[Any]]([[]])
        for param, text in zip(params, rest, strict=True):
            if param == _ANY:
                texts.append(text)
                given.append([])
            else:
                texts[-1] += f"%s{text}"
                given[-1].append(param)
        listed = [] if self._as_stored else [one[0] for one in compiler.select]
        columns = compiler.get_converters(listed)
        converters = ((place, tuple(by), of) for place, (by, of) in columns.items())
        return _Made(tuple(texts), tuple(map(tuple, given)), tuple(converters))


class PreparedRecords(Generic[Record]):
    """A query for whole records of a model, put together once like those for their values."""

    def __init__(
        self, model: type[Record], ask: Callable[[list[int]], QuerySet[Record, Record]]
    ) -> None:
        self._model, self._values = model, Prepared(ask)

    def of(self, ids: Iterable[int]) -> Iterator[Record]:
        """Return the records that these ids name; none for none."""
        names = [column.attname for column in self._model._meta.concrete_fields]
        for row in self._values.rows(ids):
            yield self._model.from_db(connection.alias, names, row)
