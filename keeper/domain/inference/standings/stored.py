"""The stored standings of some animals, by group of loci, read as they are asked for."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.prepared import Prepared
from keeper.domain.inference.standings.copies import Figure, Whose
from keeper.models import Standing


class Stored(NamedTuple):
    """The numbers of a stored standing; the first are those of a `Figure`, in its order."""

    two: float
    one: float
    none: float
    error: float
    mixed: float
    customary: float | None
    dispute: int | None
    word: str
    apart: bool


_Told = dict[tuple[int, int | None], Stored]
_NOTHING: _Told = {}


class Store:
    """Stored standings of some animals, fetched as they are asked for."""

    def __init__(self, inheritance: Inheritance) -> None:
        self._group = {pk: group for group in inheritance.groups for pk in group.traits}
        self._of: dict[int, dict[LocusGroup | None, _Told]] = {}

    def fetch(self, animals: Iterable[int]) -> None:
        """Read the standings of those of whom they were not read yet, in one query."""
        missing = set(animals) - self._of.keys()
        self._of |= {pk: {} for pk in missing}
        for row in _STANDINGS.rows(missing):
            animal, trait, line = row[:3]
            own, group = self._of[animal], self._group.get(trait)
            told = own.get(group)
            if told is None:
                told = own[group] = {}
            told[trait, line] = Stored._make(row[3:])

    def at(self, animal: int, group: LocusGroup) -> Mapping[tuple[int, int | None], Stored]:
        """The standings of an animal at a group, by trait and line; it must have been fetched."""
        return self._of[animal].get(group, _NOTHING)

    def traits(self, animal: int) -> set[int]:
        """The traits of which an animal has a standing; it must have been fetched."""
        return {trait for told in self._of[animal].values() for trait, _ in told}

    def figures(self, animals: Iterable[int], group: LocusGroup) -> dict[Whose, Figure]:
        """The figures of some animals at a group of loci."""
        return {
            (pk, trait, line): Figure._make(one[: len(Figure._fields)])
            for pk in animals
            for (trait, line), one in self.at(pk, group).items()
        }


_STANDINGS = Prepared(
    lambda pks: Standing.objects.filter(animal__in=pks).values_list(
        *("animal_id", "trait_id", "line_id"),
        *("two", "one", "none", "error", "mixed", "customary", "dispute_id", "word", "apart"),
    ),
    as_stored=True,
)
