"""Founders, kinship and inbreeding of a species' living animals, and of groups of them."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import genetics
from keeper.domain.book.snapshots import snapshot
from keeper.domain.inference.descent.known import known
from keeper.domain.inference.descent.origins import Origins
from keeper.models import Animal, Species

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# Of animals by id: 1 for a member of a group, or the chance that it is one.
Weights = Mapping[int, float]


@dataclass(frozen=True)
class Numbered:
    """Weights of animals by their numbers: for groups as large as the book."""

    numbers: "NDArray[np.int64]"
    weights: "NDArray[np.float64]"


@dataclass(frozen=True)
class Group:
    """What a group of animals has of its founders' genes; founders are unrelated.

    Attributes:
        shares: part of its genes that is expected to come from each founder in the book, by id.
        unrecorded: the same of parents that are not recorded, each a founder of its own.
        equivalents: founders that, contributing equally, would give as even a group.
        genomes: founders whose whole genomes would be as diverse.
        mean: mean kinship, over all pairs and selves.
    """

    shares: dict[int, float]
    unrecorded: tuple[float, ...]
    equivalents: float
    genomes: float
    mean: float


class Descent:
    """The pedigree of a species' living animals; kinship by what is known of every parentage.

    Attributes:
        living: ids of the animals that are neither sold nor dead.
        left_out: families too large to tell who sired what; those clutches go by the shares typed.
    """

    def __init__(self, species: Species, also: Collection[int] = ()) -> None:
        with snapshot():
            self._known = known(species, also)
        self.living, self.left_out = self._known.living, self._known.of.left_out
        self._number = self._known.of.number

    def __len__(self) -> int:
        """Return how many animals are known here: those that are living, and their ancestors."""
        return len(self._number)

    @property
    def _diversity(self) -> "genetics.Diversity":
        return self._known.diversity

    @cached_property
    def _animal(self) -> dict[int, int]:
        """The id of the animal at each number."""
        return {number: pk for pk, number in self._number.items()}

    def numbers(self, animals: "NDArray[np.int64]") -> "NDArray[np.int64]":
        """Return the number of each animal by its id; -1 of one that is nobody's ancestor here."""
        import numpy as np

        here = self._known.animals
        if not len(here):
            return np.full(len(animals), -1, dtype=np.int64)
        places = np.minimum(np.searchsorted(here, animals), len(here) - 1)
        return np.where(here[places] == animals, places, -1)

    def origins(self, carriers: "NDArray[np.int64]", began: "NDArray[np.int64]") -> Origins:
        """Return who may have brought a gene to its carriers, all by number; with some it began."""
        return Origins(self._known, carriers, began)

    def groups(self, groups: Sequence[Weights]) -> list[Group | None]:
        """Return what each group has of its founders; None of one without members."""
        some = [one for one in groups if any(one.values())]
        if not some:
            return [None] * len(groups)
        weights = self._columns(some)
        of = self._diversity
        shares = of.contributions(weights)
        figures = (of.founder_equivalents(weights), of.genome_equivalents(weights))
        means = of.mean_kinship(weights)
        told = iter(
            self._group(shares[:, k].tolist(), *(float(one[k]) for one in (*figures, means)))
            for k in range(len(some))
        )
        return [next(told) if any(one.values()) else None for one in groups]

    def mean_kinships(self, group: Weights) -> dict[int, float]:
        """Return the mean kinship of everyone known here with a group, by id; {} of no group."""
        if not any(group.values()):
            return {}
        found = self._diversity.mean_kinships(self._columns([group])[:, 0]).tolist()
        return {pk: found[number] for pk, number in self._number.items()}

    def mean_kinships_with_all(self) -> Mapping[int, float]:
        """Return the mean kinship of everyone known here with all that live here, by id."""
        return self._known.with_all

    def means_within(self, groups: Sequence[Numbered]) -> list[float]:
        """Return the mean kinship within each group; each has a member."""
        import numpy as np

        if not groups:
            return []
        columns = np.zeros((len(self._diversity), len(groups)))
        for place, one in enumerate(groups):
            columns[one.numbers, place] = one.weights
        found: list[float] = self._diversity.mean_kinship(columns).tolist()
        return found

    def of_clutches(self) -> Mapping[int, float]:
        """Return the inbreeding of what hatched or will hatch from each clutch, by its id."""
        return self._known.of_clutches

    def of_animals(self) -> dict[int, float]:
        """Return the inbreeding of everyone known here, by id."""
        found = self._diversity.inbreeding.tolist()
        return {pk: found[number] for pk, number in self._number.items()}

    def pairs(self, pairs: Iterable[tuple[int, int]]) -> dict[tuple[int, int], float]:
        """Return the inbreeding that young of each pair, dam and sire, would have."""
        asked = list(pairs)
        dams = {dam: place for place, dam in enumerate(sorted({dam for dam, _ in asked}))}
        sires = {sire: place for place, sire in enumerate(sorted({sire for _, sire in asked}))}
        if not asked:
            return {}
        number = self._number
        found = self._diversity.pair_inbreeding(
            [number[pk] for pk in dams], [number[pk] for pk in sires]
        )
        return {(dam, sire): float(found[dams[dam], sires[sire]]) for dam, sire in asked}

    def _columns(self, groups: Sequence[Weights]) -> "genetics.Floats":
        import numpy as np

        found = np.zeros((len(self._diversity), len(groups)))
        for place, group in enumerate(groups):
            for pk, weight in group.items():
                found[self._number[pk], place] = weight
        return found

    def _group(self, shares: list[float], equivalents: float, genomes: float, mean: float) -> Group:
        named: dict[int, float] = {}
        unrecorded = []
        for number, share in zip(self._diversity.founders.tolist(), shares, strict=True):
            if share > 0 and number in self._animal:
                named[self._animal[number]] = share
            elif share > 0:
                unrecorded.append(share)
        return Group(named, tuple(unrecorded), equivalents, genomes, mean)


def mean_kinships(animals: Iterable[Animal]) -> dict[int, float]:
    """Mean kinship of animals, by id, with the living ones of their species, by likely parentage.

    An animal that is one of them counts with itself too; 0 where none is living.
    """
    of: dict[int, list[Animal]] = {}
    for animal in animals:
        of.setdefault(animal.species_id, []).append(animal)
    found: dict[int, float] = {}
    for species in Species.objects.filter(pk__in=of):
        asked = [one.pk for one in of[species.pk]]
        descent = Descent(species, also=asked)
        means = descent.mean_kinships_with_all()
        found |= {pk: means.get(pk, 0.0) for pk in asked}
    return found


def effective_size(
    times: Sequence[float], inbreeding: Sequence[float], *, generation: float
) -> float | None:
    """Return the effective size by the rise of inbreeding; None: it does not rise.

    Raises:
        ValueError: a coefficient is not from 0 to below 1, or the generation not above 0.
    """
    return genetics.effective_size(times, inbreeding, generation=generation)
