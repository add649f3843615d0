"""Standings as plain values: read, compared and written by the ten thousand.

A model's instance for each row takes most of the time where a whole book is written or compared,
so rows are tuples here and go to the database as they are.
"""

from collections.abc import Collection, Iterable, Iterator, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from django.db import connection
from django.db.models import F, Model, QuerySet

from keeper.domain.inference.reading.prepared import Prepared
from keeper.domain.inference.standings.copies import Whose
from keeper.domain.saying.figures import carries_percent, percent
from keeper.models import Standing, StandingChange, Word

# Two computations of one number may differ by rounding in the last places; a stored figure is
# only written anew when it differs by more.
SAME = 1e-9


class Values(NamedTuple):
    """What a standing says."""

    two: float
    one: float
    none: float
    mixed: float
    error: float
    customary: float | None
    word: str
    clean_young: int
    proof_looks: int
    proof_young: int
    proof_clutches: int
    dispute: int | None
    apart: bool = False

    @property
    def carries(self) -> float:
        """The probability of at least one copy."""
        return self.two + self.one if self.none else 1.0


NOTHING = Values(0.0, 0.0, 1.0, 0.0, 0.0, None, Word.ABSENT.value, 0, 0, 0, 0, None)

_WHOSE = ("animal_id", "trait_id", "line_id")
_SAID = (
    *("two", "one", "none", "mixed", "error", "customary", "word"),
    *("clean_young", "proof_looks", "proof_young", "proof_clutches", "dispute_id", "apart"),
)
_STORED = ("pk", *_WHOSE, *_SAID)
_CHANGE = (
    "entry_id", *_WHOSE, "word_before", "two_before", "none_before", "disputed_before",
    "word", "two", "none", "disputed",
)  # fmt: skip


def stored(rows: QuerySet[Standing]) -> Iterator[tuple[Whose, int, Values]]:
    """Whose each row is, its id and what it says."""
    yield from _read(rows.order_by().values_list(*_STORED).iterator(chunk_size=5000))


def stored_of(
    animals: Collection[int], traits: Collection[int]
) -> Iterator[tuple[Whose, int, Values]]:
    """The same of some animals at some traits."""
    return _read(_of_animals(tuple(sorted(traits))).rows(animals) if traits else ())


def _read(rows: Iterable[Sequence[Any]]) -> Iterator[tuple[Whose, int, Values]]:
    for pk, animal, trait, line, *said in rows:
        yield (animal, trait, line), pk, Values._make(said)


@lru_cache(maxsize=256)
def _of_animals(traits: tuple[int, ...]) -> Prepared:
    # The animals alone name the rows: a database might rather go through all of a trait's. Of
    # these rows the trait, as a sum that no index holds, leaves out what is not asked for.
    about = Standing.objects.annotate(about=F("trait") + 0).filter(about__in=traits)
    return Prepared(lambda pks: about.filter(animal__in=pks).values_list(*_STORED))


def same(old: Values, new: Values) -> bool:
    """Whether two rows say the same, up to rounding; certainty must be the same exactly."""
    if old == new:
        return True
    return old[6:] == new[6:] and all(
        abs(a - b) <= SAME and (a == 0) == (b == 0)
        for a, b in zip(_figures(old), _figures(new), strict=True)
    )


def _figures(one: Values) -> tuple[float, ...]:
    customary = -1.0 if one.customary is None else one.customary
    return one.two, one.one, one.none, one.error, one.mixed, customary


def seems_moved(old: Values | None, new: Values) -> bool:
    """Whether a reader would see the difference."""
    return old is None or _shown(old) != _shown(new)


def _shown(one: Values) -> tuple[str, str, str, bool]:
    carries = carries_percent(one.carries, one.word, certain=one.none == 0)
    return one.word, carries, percent(one.two, certain=one.two == 1), one.dispute is not None


# --- written --------------------------------------------------------------------------------------


def insert(rows: Iterable[tuple[Whose, Values]], entry: int) -> None:
    """Write standings that were not there."""
    _insert(Standing, (*_WHOSE, *_SAID, "entry_id"), [(*who, *said, entry) for who, said in rows])


def update(rows: Iterable[tuple[int, Values]], entry: int) -> None:
    """Write standings over those with these ids."""
    changed = [(*said, entry, pk) for pk, said in rows]
    if not changed:
        return
    quote = connection.ops.quote_name
    settings = ", ".join(f"{quote(name)} = %s" for name in (*_SAID, "entry_id"))
    table = quote(Standing._meta.db_table)
    with connection.cursor() as cursor:
        cursor.executemany(f"UPDATE {table} SET {settings} WHERE id = %s", changed)


def note(rows: Iterable[tuple[Whose, Values | None, Values | None]], entry: int) -> None:
    """Write down what standings were before and what they are; None: there was, or is, none."""
    changes = []
    for who, old, new in rows:
        before = (
            ("", None, None, False)
            if old is None
            else (old.word, old.two, old.none, old.dispute is not None)
        )
        now = NOTHING if new is None else new
        after = (now.word, now.two, now.none, now.dispute is not None)
        changes.append((entry, *who, *before, *after))
    _insert(StandingChange, _CHANGE, changes)


def _insert(model: type[Model], columns: Sequence[str], rows: list[tuple[Any, ...]]) -> None:
    if not rows:
        return
    quote = connection.ops.quote_name
    names = ", ".join(map(quote, columns))
    marks = ", ".join(["%s"] * len(columns))
    table = quote(model._meta.db_table)
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", rows)
