"""The pedigree of a species as it was read: told apart from another, and kept with what follows."""

from collections import Counter, defaultdict
from fractions import Fraction
from functools import cached_property
from hashlib import sha256

import genetics
from keeper.domain.inference.reading.rows import ALONE, AnimalRow, ClutchRow, Rows, shared
from keeper.models import GONE, Animal, CandidateSire, Clutch


class Parents(Rows):
    """The same animals and clutches as `Rows`, each table read once, and who of them is here."""

    @cached_property
    def _animals(
        self,
    ) -> "list[tuple[int, str, genetics.Sex, int | None, int | None, int | None, int | None, str]]":
        columns = ("pk", "code", "sex", "dam_id", "sire_id", "clutch_id", "hatch_row_id", "status")
        live = Animal.objects.live().filter(species=self.species).order_by("pk")
        return list(live.values_list(*columns))

    @cached_property
    def _clutches(self) -> "list[tuple[int, str, int | None, genetics.Paternity]]":
        live = Clutch.objects.live().filter(species=self.species).order_by("pk")
        return list(live.values_list("pk", "code", "dam_id", "paternity"))

    @cached_property
    def _candidates(self) -> list[tuple[int, int | None, bool, Fraction]]:
        named = CandidateSire.objects.live().filter(clutch__species=self.species).order_by("pk")
        return list(named.values_list("clutch_id", "sire_id", "alone", "share"))

    @cached_property
    def _gone(self) -> frozenset[int]:
        withdrawn = Animal.objects.withdrawn().filter(species=self.species)
        return frozenset(withdrawn.values_list("pk", flat=True))

    @cached_property
    def digest(self) -> str:
        """What tells these rows from any others: all that was read of them, and nothing else."""
        read = (self._animals, self._clutches, self._candidates, sorted(self._gone))
        return sha256(repr(read).encode()).hexdigest()

    @property
    def with_several_sires(self) -> set[int]:
        """Ids of the clutches that more than one may have sired."""
        named = Counter(row[0] for row in self._candidates)
        live = {row[0] for row in self._clutches}
        return {pk for pk, number in named.items() if number > 1 and pk in live}

    @cached_property
    def living(self) -> frozenset[int]:
        """Ids of the animals that are neither sold nor dead."""
        return frozenset(row[0] for row in self._animals if row[-1] not in GONE)

    @cached_property
    def animals(self) -> dict[int, AnimalRow]:
        """Animals by id. A parent that was withdrawn is one not recorded."""
        known = {None, *(row[0] for row in self._animals)}
        clutches = {None, *(row[0] for row in self._clutches)}
        return {
            pk: AnimalRow(
                pk,
                code,
                sex,
                dam if dam in known else None,
                sire if sire in known else None,
                clutch if clutch in clutches else None,
                row,
            )
            for pk, code, sex, dam, sire, clutch, row, _ in self._animals
        }

    @cached_property
    def clutches(self) -> dict[int, ClutchRow]:
        """Clutches by id. A parent that was withdrawn is one not recorded."""
        of: dict[int, list[tuple[int | None, Fraction]]] = defaultdict(list)
        for clutch, sire, alone, share in self._candidates:
            of[clutch].append((ALONE if alone else None if sire in self._gone else sire, share))
        found = {}
        for pk, code, dam, paternity in self._clutches:
            mother = None if dam in self._gone else dam
            sires = shared(of.get(pk, []))
            named = frozenset(one for one in (mother, *(sire for sire, _ in sires)) if one)
            found[pk] = ClutchRow(pk, code, mother, paternity, sires, named)
        return found
