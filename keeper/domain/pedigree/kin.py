"""Who is in a pedigree: ancestors, young and mates, read a generation at a time.

So many queries a generation, however many animals it has. What is withdrawn is left out, but for
what is asked for itself and its parents.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from django.db.models import Count, Prefetch, Q

from keeper.models import Animal, CandidateSire, Clutch, HatchRow, RowSighting

# So many are drawn at most: beyond it no one finds anything in a picture.
MOST = 240


@dataclass(frozen=True)
class Candidate:
    """One that may be the sire: an animal, one that is not recorded (None), or none (`alone`)."""

    sire: int | None
    alone: bool = False
    share: Fraction | None = None


@dataclass(frozen=True)
class Parents:
    """A dam, if she is recorded, and the candidate sires; one that is certain stands alone."""

    dam: int | None
    sires: tuple[Candidate, ...]

    @property
    def key(self) -> tuple[int, tuple[tuple[int, bool], ...]]:
        """The same for all young of the same parents."""
        return self.dam or 0, tuple(sorted((one.sire or 0, one.alone) for one in self.sires))

    @property
    def animals(self) -> set[int]:
        """All of them that are recorded."""
        return {pk for pk in (self.dam, *(one.sire for one in self.sires)) if pk is not None}


@dataclass
class Brood:
    """All young of the same parents that are drawn: records, and hatchlings without one by row."""

    parents: Parents
    young: list[int] = field(default_factory=list)
    tallies: list[HatchRow] = field(default_factory=list)


class Kin:
    """The animals of a pedigree by id, and who is whose young.

    Attributes:
        animals: everyone, by id.
        parents: animal → its parents, if any are recorded.
        more: whether some were left out, because there are too many to draw.
    """

    def __init__(self) -> None:
        self.animals: dict[int, Animal] = {}
        self.parents: dict[int, Parents] = {}
        self.more = False
        self._rows: dict[int, list[HatchRow]] = {}
        self._of_clutch: dict[int, Parents] = {}

    def take(self, ids: Iterable[int]) -> set[int]:
        """Read animals with their parents, the first first; return those that are new."""
        wanted = [pk for pk in dict.fromkeys(ids) if pk not in self.animals]
        if len(self.animals) + len(wanted) > MOST:
            self.more = True
            wanted = wanted[: max(0, MOST - len(self.animals))]
        if not wanted:
            return set()
        found = Animal.objects.filter(pk__in=wanted).select_related("clutch")
        rows = {one.pk: one for one in found}
        self.animals.update(rows)
        self._read_candidates(one.clutch for one in rows.values() if one.clutch is not None)
        for pk, one in rows.items():
            if (parents := self._parents(one)) is not None:
                self.parents[pk] = parents
        return set(rows)

    def _read_candidates(self, clutches: Iterable[Clutch]) -> None:
        new = {one.pk: one for one in clutches if one.pk not in self._of_clutch}
        if not new:
            return
        found: dict[int, list[CandidateSire]] = {pk: [] for pk in new}
        for one in CandidateSire.objects.live().filter(clutch__in=new):
            found[one.clutch_id].append(one)
        for pk, clutch in new.items():
            self._of_clutch[pk] = Parents(clutch.dam_id, _shared(found[pk]))

    def _parents(self, animal: Animal) -> Parents | None:
        if animal.clutch_id is not None:
            found = self._of_clutch[animal.clutch_id]
            return found if found.animals else None
        if animal.dam_id is None and animal.sire_id is None:
            return None
        return Parents(animal.dam_id, (Candidate(animal.sire_id),))

    # ---- whom to read -----------------------------------------------------------------------

    def climb(self, ids: Iterable[int], generations: int) -> None:
        """Read the ancestors of some who are in it, so many generations of them."""
        last = set(ids) & self.animals.keys()
        for _ in range(generations):
            above = {up for one in last if one in self.parents for up in self.parents[one].animals}
            self.take(above)
            last = above & self.animals.keys()

    def descend(self, ids: Iterable[int], generations: int) -> None:
        """Read the descendants of some who are in it; `close` reads their mates."""
        last = set(ids)
        for _ in range(generations):
            if not last:
                return
            mine = Q(dam__in=last) | Q(candidates__sire__in=last, candidates__withdrawn_at=None)
            clutches = list(Clutch.objects.live().filter(mine).distinct())
            self._read_candidates(clutches)
            self.tally(clutches)
            own = Q(clutch__in=clutches) | Q(dam__in=last) | Q(sire__in=last)
            young = list(Animal.objects.live().filter(own).values_list("pk", flat=True))
            self.take(young)
            last = set(young) & self.animals.keys()

    def tally(self, clutches: Iterable[Clutch]) -> None:
        """Read what hatched of clutches and has no record of its own."""
        clutches = list(clutches)
        self._read_candidates(clutches)
        recorded = Count("recorded", filter=Q(recorded__withdrawn_at=None))
        sightings = Prefetch("sightings", RowSighting.objects.live())
        rows = HatchRow.objects.live().filter(clutch__in=clutches).annotate(own=recorded)
        for row in rows.select_related("clutch").prefetch_related(sightings).order_by("pk"):
            if row.count > row.own:
                self._rows.setdefault(row.clutch_id, []).append(row)

    def close(self) -> None:
        """Read the other parent wherever one is in it, so that loops are drawn whole."""
        families = [*self.parents.values(), *(self._of_clutch[one] for one in self._rows)]
        near = {
            up
            for parents in families
            if parents.animals & self.animals.keys()
            for up in parents.animals
        }
        self.take(near)

    # ---- what was read ----------------------------------------------------------------------

    def broods(self) -> list[Brood]:
        """The families of all whose parents are in it, the oldest young first in each."""
        found: dict[object, Brood] = {}
        for pk in sorted(self.animals, key=self._age):
            parents = self.parents.get(pk)
            if parents is not None and parents.animals <= self.animals.keys():
                found.setdefault(parents.key, Brood(parents)).young.append(pk)
        for clutch, rows in self._rows.items():
            parents = self._of_clutch[clutch]
            if parents.animals and parents.animals <= self.animals.keys():
                found.setdefault(parents.key, Brood(parents)).tallies.extend(rows)
        return list(found.values())

    def hidden_above(self, animal: int) -> bool:
        """Whether an animal has parents in the book that are not in it."""
        parents = self.parents.get(animal)
        return parents is not None and not parents.animals <= self.animals.keys()

    def _age(self, animal: int) -> tuple[int, str, str]:
        one = self.animals[animal]
        day = one.hatched_on.isoformat() if one.hatched_on else ""
        return one.hatched_year or 9999, day, one.code


def _shared(candidates: list[CandidateSire]) -> tuple[Candidate, ...]:
    """The candidates with their shares in proportion; a sire not recorded where there is none."""
    if len(candidates) < 2:
        return tuple(Candidate(one.sire_id, one.alone) for one in candidates) or (Candidate(None),)
    whole = sum((Fraction(one.share) for one in candidates), Fraction(0)) or Fraction(1)
    return tuple(
        Candidate(one.sire_id, one.alone, Fraction(one.share) / whole) for one in candidates
    )
