"""A species' pedigree worked out, kept for as long as the same rows are read.

It is told by its content: by every value of the animals and clutches that was read, and by who is
likely to have sired what. So it does not matter how the book came to be as it is: by an entry, by
one taken back, by a copy that was put back, or by another process.
"""

from collections import OrderedDict
from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property
from threading import Lock
from typing import TYPE_CHECKING

import genetics
from keeper.domain.inference.descent.lineage import Lineage, lineage, sires_among
from keeper.domain.inference.descent.parents import Parents
from keeper.domain.inference.questions.parentage import Sires
from keeper.models import Species

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# Pedigrees of so many species are kept in a process, those asked for last.
_SPECIES = 4


@dataclass(frozen=True)
class Known:
    """A pedigree and what follows from it alone.

    Attributes:
        living: ids of the animals that are neither sold nor dead.
        rests_on: the rows it was worked out from, and who sired what by all that hatched.
    """

    living: frozenset[int]
    of: Lineage
    above: dict[int, frozenset[int]]
    rests_on: tuple[str, Sires]

    @cached_property
    def diversity(self) -> "genetics.Diversity":
        """What answers for groups."""
        return genetics.Diversity(self.of.pedigree)

    @cached_property
    def animals(self) -> "NDArray[np.int64]":
        """The id of the animal at each number, ascending."""
        import numpy as np

        return np.array(list(self.of.number), dtype=np.int64)

    @cached_property
    def parents(self) -> "NDArray[np.int64]":
        """By number, those of all that may be its parents, filled up with that of nobody: -1."""
        import numpy as np

        number = self.of.number
        most = max(map(len, self.above.values()), default=0)
        found = np.full((len(number), max(most, 1)), -1, dtype=np.int64)
        for pk, own in self.above.items():
            for place, one in enumerate(own):
                found[number[pk], place] = number[one]
        return found

    @cached_property
    def generations(self) -> "list[NDArray[np.int64]]":
        """All numbers, those of parents in an earlier part than those of their young."""
        import numpy as np

        level = np.zeros(len(self.animals) + 1, dtype=np.int64)
        level[-1] = -1  # that of nobody
        # As often as there are generations; nobody is its own ancestor.
        for _ in self.animals:
            least = level[self.parents].max(axis=1) + 1
            if (least == level[:-1]).all():
                break
            level[:-1] = least
        order = np.argsort(level[:-1], kind="stable")
        return np.split(order, np.flatnonzero(np.diff(level[order])) + 1)

    @cached_property
    def with_all(self) -> dict[int, float]:
        """The mean kinship of everyone here with all that are living, by id."""
        import numpy as np

        weights = np.zeros(len(self.diversity))
        weights[[self.of.number[pk] for pk in self.living]] = 1.0
        if not self.living:
            return {}
        found = self.diversity.mean_kinships(weights).tolist()
        return {pk: found[number] for pk, number in self.of.number.items()}

    @cached_property
    def of_clutches(self) -> dict[int, float]:
        """The inbreeding of what hatched or will hatch from each clutch, by its id."""
        found = self.diversity.inbreeding.tolist()
        return {pk: found[number] for pk, number in self.of.young.items()}


_kept: OrderedDict[int, Known] = OrderedDict()
_keeping = Lock()


def known(species: Species, also: Collection[int] = ()) -> Known:
    """Return the pedigree of a species' living animals, and of some others, as the book stands."""
    rows = Parents(species.pk)
    sires = sires_among(species, rows, rows.with_several_sires)
    rests_on = (rows.digest, sires)
    with _keeping:
        found = _kept.get(species.pk)
    if found is None or found.rests_on != rests_on:
        found = _worked_out(species, rows, rows.living, rests_on)
        with _keeping:
            _kept[species.pk] = found
            _kept.move_to_end(species.pk)
            while len(_kept) > _SPECIES:
                _kept.popitem(last=False)
    others = {pk for pk in also if pk not in found.of.number}
    if others and (others := others & rows.animals.keys()):
        return _worked_out(species, rows, rows.living | others, rests_on)
    return found


def _worked_out(
    species: Species, rows: Parents, animals: Collection[int], rests_on: tuple[str, Sires]
) -> Known:
    made = lineage(species, rows, animals, rows.clutches, rests_on[1])
    above = {pk: rows.parents(rows.animals[pk]) for pk in made.number}
    return Known(rows.living, made, above, rests_on)
