"""What hatchlings showed, of those that could have shown it and of whom it could be told.

A hatchling on which another look hides a trait could not have shown it, and of one too young for
it, or not looked at for it, nothing is told. Whoever shows the double form shows the trait.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.rows import Rows


@dataclass(frozen=True)
class Alike:
    """So many hatchlings of one look: the traits that they showed, and could have and did not."""

    count: int
    shown: frozenset[int]
    not_shown: frozenset[int]


def told_of(
    inheritance: Inheritance, seen: Collection[int], unseen: Collection[int]
) -> tuple[frozenset[int], frozenset[int]]:
    """The traits that a look shows, double forms' bases with them, and those that it denies."""
    there = [inheritance.traits[pk] for pk in seen if pk in inheritance.traits]
    shown = frozenset(one.pk for one in there) | {one.base_id for one in there if one.base_id}
    return shown, frozenset(unseen) - shown - inheritance.hidden_by(seen)


def alike(inheritance: Inheritance, rows: Rows, clutch: int) -> Iterator[Alike]:
    """What hatched in a clutch: its tallies, and each hatchling with a record."""
    for row in rows.tallies.get(clutch, ()):
        if row.tally:
            yield Alike(row.tally, *told_of(inheritance, row.seen, row.unseen))
    for pk in rows.hatched.get(clutch, ()):
        looks = rows.observations.get(pk, {})
        seen = {trait for trait, look in looks.items() if look.seen}
        yield Alike(1, *told_of(inheritance, seen, looks.keys() - seen))


def showed(hatched: Iterable[Alike], trait: int) -> tuple[int, int]:
    """How many showed a trait, and of how many that could be told."""
    found = 0
    told = 0
    for one in hatched:
        found += one.count * (trait in one.shown)
        told += one.count * (trait in one.shown or trait in one.not_shown)
    return found, told
