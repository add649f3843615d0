"""The rows around some animals, read in a fixed number of queries; childless young are counted.

What a page asks of some animals rests on those around them. A hatchling without young tells of
its parents by what was seen on it and by nothing else, so all of a clutch that looked the same are
one line of its tally here, beside those that have no record. That is most of a book.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from typing import NamedTuple

import genetics
from keeper import models as m
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.looks import LOOKED, SeenRow, seen_rows
from keeper.domain.inference.reading.prepared import Prepared
from keeper.domain.inference.reading.rows import TallyRow
from keeper.domain.inference.walking import kin
from keeper.domain.inference.walking.reached import ReachedRows, observed

# A line of a tally that no row of a hatch stands for.
COUNTED = 0


class _Young(NamedTuple):
    """A hatchling: its clutch, and the row of the hatch in which it is counted."""

    pk: int
    clutch: int
    sex: "genetics.Sex"
    row: int | None


# Hatchling → trait → what counts of what was seen.
_Looks = dict[int, dict[int, SeenRow]]
# Sex, and the traits that were seen and those that were looked for and not seen.
_Alike = tuple["genetics.Sex", frozenset[int], frozenset[int]]


class FoldedRows(ReachedRows):
    """Rows of one species around some animals, for a question about these."""

    def read(
        self, inheritance: Inheritance, groups: Iterable[LocusGroup], animals: Collection[int]
    ) -> set[int]:
        """Read what is around some animals in some groups; return those of whom there are rows.

        Of whoever is further away rows are read when they are asked for, as ever.
        """
        return self.read_around(inheritance, kin.around(inheritance, list(groups), animals))

    def read_around(self, inheritance: Inheritance, found: kin.Around) -> set[int]:
        """Read what is around in some clutches; return those of whom there are rows."""
        self.clutches.ask(found.every_clutch)
        young = self._young(found.every_clutch)
        looks = self._looks(found, young)
        apart = self._apart(inheritance, found, young, looks) - found.breeders
        self._put_kin(found, young, apart)
        self._put_tallies(found, young, found.breeders | apart, looks)
        return found.breeders | apart

    def _apart(
        self,
        inheritance: Inheritance,
        found: kin.Around,
        young: Iterable[_Young],
        looks: _Looks,
    ) -> set[int]:
        """Those who tell more of their parents than by one look at each trait."""
        told = set(self.arisen)
        for more in (_TESTED_YOUNG, _NAMED_YOUNG):
            told |= {pk for (pk,) in more.rows(found.every_clutch)}
        told |= {pk for pk, seen in looks.items() if any(one.earlier for one in seen.values())}
        # On sex chromosomes a hatchling of unknown sex is more than its looks.
        autosomal = all(
            inheritance.loci[pk].chromosome == m.Chromosome.AUTOSOME
            for group in found.clutches
            for pk in group.loci
        )
        return {
            one.pk for one in young if one.pk in told or (one.sex == "unknown" and not autosomal)
        }

    def _young(self, clutches: Collection[int]) -> list[_Young]:
        """Those who hatched in some clutches, with records of their own."""
        return sorted(
            _Young(pk, clutch, sex, row)
            for species, pk, clutch, sex, row in _YOUNG.rows(clutches)
            if species == self.species and clutch in self.clutches
        )

    def _put_kin(self, found: kin.Around, young: Iterable[_Young], apart: set[int]) -> None:
        """Say who hatched where and who bred what, without those who are counted alone."""
        kept = found.breeders | apart
        self.animals.ask(kept)
        hatched: dict[int, list[int]] = {pk: [] for pk in found.every_clutch}
        for one in young:
            if one.pk in kept:
                hatched[one.clutch].append(one.pk)
        bred: dict[int, list[int]] = {pk: [] for pk in found.doubtful | apart}
        children: dict[int, set[int]] = {pk: set() for pk in bred}
        for clutch in sorted(found.every_clutch):
            for parent in self.clutches[clutch].parents if clutch in self.clutches else ():
                if parent in bred:
                    bred[parent].append(clutch)
                    children[parent].update(hatched[clutch])
        for pk in kept:
            row = self.animals.get(pk)
            for stated in (row.dam, row.sire) if row is not None and row.clutch is None else ():
                if stated is not None and stated in children:
                    children[stated].add(pk)
        for clutch, listed in hatched.items():
            self.hatched.put(clutch, listed)
        for pk, clutches in bred.items():
            self.bred.put(pk, clutches)
            self.children.put(pk, sorted(children[pk]))

    def _put_tallies(
        self, found: kin.Around, young: Iterable[_Young], kept: set[int], looks: _Looks
    ) -> None:
        """Count the others by their sex and what was seen on them, beside those without records."""
        recorded = Counter(one.row for one in young if one.row is not None)
        alike: dict[int, Counter[_Alike]] = defaultdict(Counter)
        for one in young:
            if one.pk not in kept:
                shown = looks.get(one.pk, {}).items()
                seen = frozenset([trait for trait, look in shown if look.seen])
                unseen = frozenset([trait for trait, look in shown if not look.seen])
                alike[one.clutch][one.sex, seen, unseen] += 1
        every = found.every_clutch
        rows = self._tallied(every, recorded)
        for clutch in every:
            lines = [
                TallyRow(COUNTED, clutch, sex, count, count, seen, unseen)
                for (sex, seen, unseen), count in alike[clutch].items()
            ]
            self.tallies.put(clutch, [*rows.get(clutch, ()), *lines])

    def _looks(self, found: kin.Around, young: Collection[_Young]) -> _Looks:
        """What counts of what was seen on hatchlings, where it bears on something."""
        whole = list(_LOOKED_YOUNG.rows(found.every_clutch))
        looks: _Looks = defaultdict(dict)
        for group, clutches in found.clutches.items():
            # By the animals: of their clutches PostgreSQL would go through all looks there are.
            asked = observed(group.traits, aged=bool(self.telling.limited))
            here = {one.pk for one in young if one.clutch in clutches}
            whole_here = [one for one in whole if one[1] in here]
            seen = seen_rows(asked.rows(here), whole_here, self.telling, group.traits)
            for animal, shown in seen.items():
                looks[animal] |= shown
        return looks


_YOUNG = Prepared(
    lambda pks: (
        m.Animal.objects.live()
        .filter(clutch__in=pks)
        .values_list("species_id", "pk", "clutch_id", "sex", "hatch_row_id")
    )
)
_TESTED_YOUNG = Prepared(
    lambda pks: m.LabTest.objects.live().filter(animal__clutch__in=pks).values_list("animal_id")
)
_NAMED_YOUNG = Prepared(
    lambda pks: m.Statement.objects.live().filter(animal__clutch__in=pks).values_list("animal_id")
)
_LOOKED_YOUNG = Prepared(
    lambda pks: m.Look.objects.live().filter(animal__clutch__in=pks).values_list(*LOOKED)
)
