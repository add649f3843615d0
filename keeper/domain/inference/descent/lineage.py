"""The pedigree behind some animals, its uncertain parents as likely as all that hatched says."""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from hashlib import sha256

from django.core.cache import cache

import genetics
from keeper.domain.inference.questions.parentage import Chances, Sires, sires_of
from keeper.domain.inference.reading.rows import ALONE, AnimalRow, ClutchRow, Rows
from keeper.models import DaybookEntry, Species

# A dam and a sire by number, the chance that they are the parents and, of a dam alone, that her
# young keep both of her alleles.
_Parents = tuple[int, int] | tuple[int, int, float] | tuple[int, int, float, float]


@dataclass(frozen=True)
class Lineage:
    """Animals and all who may be their ancestors, by number.

    Attributes:
        pedigree: the animals by number, then parents that are not recorded, then one young of
            each clutch, which has no record.
        number: of each animal, by id.
        young: of each clutch the number of that young, by the clutch's id.
        left_out: families too large to tell who sired what; their clutches go by the shares typed.
    """

    pedigree: "genetics.Pedigree"
    number: dict[int, int]
    young: dict[int, int]
    left_out: int


def lineage(
    species: Species,
    rows: Rows,
    animals: Collection[int],
    clutches: Collection[int],
    sires: Sires | None = None,
) -> Lineage:
    """Gather the ancestors of some animals, and of what hatched from some clutches.

    `sires` of all their clutches, where that is known.
    """
    return _Maker(species, rows, animals, clutches, sires).make()


def sires_among(species: Species, rows: Rows, clutches: Iterable[int]) -> Sires:
    """Who sired those of some clutches that have several candidates."""
    open_ = {pk for pk in clutches if len(rows.clutches[pk].sires) > 1}
    return _sires(species, rows, open_) if open_ else Sires()


def _sires(species: Species, rows: Rows, clutches: set[int]) -> Sires:
    """Who sired some clutches, kept until anything is written: whole families are solved for it."""
    last = DaybookEntry.objects.order_by("-pk").first()
    if last is None:
        # A book without an entry is one that nobody wrote as books are written.
        return sires_of(species, rows, clutches)
    named = "-".join(map(str, sorted(clutches)))
    key = f"sires:{species.pk}:{last.pk}:{last.at.timestamp()}:{sha256(named.encode()).hexdigest()}"
    found: Sires | None = cache.get(key)
    if found is None:
        found = sires_of(species, rows, clutches)
        cache.set(key, found)
    return found


class _Maker:
    def __init__(
        self,
        species: Species,
        rows: Rows,
        animals: Collection[int],
        clutches: Collection[int],
        sires: Sires | None,
    ) -> None:
        self.species, self.rows, self.clutches = species, rows, sorted(clutches)
        above = {pk for clutch in clutches for pk in rows.clutches[clutch].parents}
        self.inside = sorted(_with_ancestors(rows, {*animals, *above}))
        self.number = {pk: place for place, pk in enumerate(self.inside)}
        # Parents that are not recorded: one a clutch and sex.
        self.strangers: dict[tuple[int, str], int] = {}
        self.of_clutch: dict[int, tuple[_Parents, ...]] = {}
        self.sires = self._sires() if sires is None else sires

    def _sires(self) -> Sires:
        own = {self.rows.animals[pk].clutch for pk in self.inside}
        named = {pk for pk in own if pk is not None} | set(self.clutches)
        return sires_among(self.species, self.rows, named)

    def make(self) -> Lineage:
        rows = self.rows
        couples = [self._couples(rows.animals[pk]) for pk in self.inside]
        litter = [self._litter(rows.animals[pk].clutch) for pk in self.inside]
        bred = [self._by_sire(rows.clutches[pk]) for pk in self.clutches]
        first = len(couples) + len(self.strangers)
        everyone = [*couples, *(() for _ in self.strangers), *bred]
        return Lineage(
            genetics.Pedigree.from_couples(
                everyone, litter=[*litter, *[-1] * (len(everyone) - len(litter))]
            ),
            self.number,
            {pk: first + place for place, pk in enumerate(self.clutches)},
            self.sires.left_out,
        )

    def _couples(self, one: AnimalRow) -> tuple[_Parents, ...]:
        if one.clutch is not None:
            clutch, own = self.rows.clutches[one.clutch], self.sires.of_young.get(one.pk)
            return tuple(self._by_chances(clutch, own)) if own else self._by_sire(clutch)
        if one.dam is not None or one.sire is not None:
            return ((self._numbered(one.dam), self._numbered(one.sire)),)
        return ()

    def _numbered(self, pk: int | None) -> int:
        return -1 if pk is None else self.number[pk]

    def _by_sire(self, clutch: ClutchRow) -> tuple[_Parents, ...]:
        """The couples of a clutch: one object for all its young of which no more is known."""
        found = self.of_clutch.get(clutch.pk)
        if found is None:
            chances = self.sires.of_clutch.get(clutch.pk)
            if chances is None:
                chances = {sire: float(share) for sire, share in clutch.sires}
            found = self.of_clutch[clutch.pk] = tuple(self._by_chances(clutch, chances))
        return found

    def _by_chances(self, clutch: ClutchRow, chances: Chances) -> Iterator[_Parents]:
        dam = self._parent(clutch, clutch.dam, "dam")
        for sire, chance in chances.items():
            if chance <= 0:
                continue
            if sire == ALONE:
                # What such young retain is not told: none, as everywhere in the book.
                yield (dam, dam, chance, 0.0)
            else:
                yield (dam, self._parent(clutch, sire, "sire"), chance)

    def _parent(self, clutch: ClutchRow, pk: int | None, role: str) -> int:
        if pk is not None:
            return self.number[pk]
        number = len(self.inside) + len(self.strangers)
        return self.strangers.setdefault((clutch.pk, role), number)

    def _litter(self, clutch: int | None) -> int:
        """Hatchlings of one sire, whoever he was, share him."""
        if clutch is None:
            return -1
        row = self.rows.clutches[clutch]
        return clutch if len(row.sires) > 1 and row.paternity == "one" else -1


def _with_ancestors(rows: Rows, animals: set[int]) -> set[int]:
    found, waiting = set(animals), list(animals)
    while waiting:
        above = rows.parents(rows.animals[waiting.pop()]) - found
        found |= above
        waiting += above
    return found
