"""The pedigree behind some animals, its uncertain parents as likely as all that hatched says."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cached_property
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
    species: Species, rows: Rows, animals: Collection[int], clutches: Collection[int]
) -> Lineage:
    """Gather the ancestors of some animals, and of what hatched from some clutches."""
    return _Maker(species, rows, animals, clutches).make()


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
        self, species: Species, rows: Rows, animals: Collection[int], clutches: Collection[int]
    ) -> None:
        self.species, self.rows, self.clutches = species, rows, sorted(clutches)
        above = {pk for clutch in clutches for pk in rows.clutches[clutch].parents}
        self.inside = sorted(_with_ancestors(rows, {*animals, *above}))
        self.number = {pk: place for place, pk in enumerate(self.inside)}
        # Parents that are not recorded: one a clutch and sex.
        self.strangers: dict[tuple[int, str], int] = {}

    @cached_property
    def sires(self) -> Sires:
        """Who sired the clutches of several candidates."""
        own = {self.rows.animals[pk].clutch for pk in self.inside}
        named = {pk for pk in own if pk is not None} | set(self.clutches)
        open_ = {pk for pk in named if len(self.rows.clutches[pk].sires) > 1}
        return _sires(self.species, self.rows, open_) if open_ else Sires()

    def make(self) -> Lineage:
        rows = self.rows
        couples = [list(self._couples(rows.animals[pk])) for pk in self.inside]
        litter = [self._litter(rows.animals[pk].clutch) for pk in self.inside]
        bred = [list(self._by_sire(rows.clutches[pk])) for pk in self.clutches]
        first = len(couples) + len(self.strangers)
        everyone = [*couples, *([] for _ in self.strangers), *bred]
        return Lineage(
            genetics.Pedigree.from_couples(
                everyone, litter=[*litter, *[-1] * (len(everyone) - len(litter))]
            ),
            self.number,
            {pk: first + place for place, pk in enumerate(self.clutches)},
            self.sires.left_out,
        )

    def _couples(self, one: AnimalRow) -> Iterator[_Parents]:
        if one.clutch is not None:
            clutch = self.rows.clutches[one.clutch]
            yield from self._by_sire(clutch, self.sires.of_young.get(one.pk))
        elif one.dam is not None or one.sire is not None:
            yield (self._numbered(one.dam), self._numbered(one.sire))

    def _numbered(self, pk: int | None) -> int:
        return -1 if pk is None else self.number[pk]

    def _by_sire(self, clutch: ClutchRow, own: Chances | None = None) -> Iterator[_Parents]:
        chances = own or self.sires.of_clutch.get(clutch.pk)
        if chances is None:
            chances = {sire: float(share) for sire, share in clutch.sires}
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
