"""The rows of some animals' families, read without the rest of their species.

Which animals may carry a gene, and which of them are one family, is decided by the rows themselves
(`carriers`). Here the way there is walked: up from an animal to all who may be its ancestors, from
those of them who brought a gene into the book down to all of their descendants, from the mates of
these up again. What is read is closed under these ties, so that the families in it are whole, and
are those that the rows of all of the species would give.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import TypeVar

from keeper import models as m
from keeper.domain.inference.reading.carriers import has_background
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.prepared import Prepared
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.reading.statements import hanging_on, lots
from keeper.domain.inference.walking import kin
from keeper.domain.inference.walking.folded import FoldedRows
from keeper.domain.inference.walking.reached import Reached

Value = TypeVar("Value")

# Where more who have young are met than one in so many of the book's animals, reading all of the
# species is as quick; of few animals it always is, of more than the most it never should be.
_ONE_IN, _FEW, _MOST = 16, 60, 4000
# How far from the animals in question hatchlings are not counted together: parents, mates, young
# and sibs, and theirs. That far evidence is weighed singly (`workings.evidence`).
_NEAR = 3


class FamilyRows(Rows):
    """Rows of some families: all that there is of them was read."""

    def attend(self, animals: Iterable[int], clutches: Iterable[int]) -> Rows:
        """The same rows: they are of these families alone."""
        return self


def family_rows(
    inheritance: Inheritance,
    groups: Collection[LocusGroup],
    animals: Collection[int],
    *,
    counted: bool = False,
) -> FamilyRows | None:
    """Read the families of some animals at some groups of loci, or None: read the whole species.

    With `counted` childless hatchlings further off than `_NEAR` are counted by how they looked;
    their records have no names then.
    """
    return _walked(_Walk(inheritance, groups, animals, near=_NEAR if counted else 0))


def changed_rows(
    inheritance: Inheritance,
    groups: Collection[LocusGroup],
    animals: Collection[int],
    clutches: Collection[int],
) -> FamilyRows | None:
    """Read what a change of some animals and clutches can move, or None: read the whole species.

    These are their families, and all of their descendants: they may carry something no more.
    """
    return _walked(_Walk(inheritance, groups, animals, changed=set(clutches)))


def _walked(walk: "_Walk") -> FamilyRows | None:
    if not walk.go():
        return None
    if walk.has_several_sires and len(walk.groups) < len(walk.inheritance.groups):
        # What is seen at one locus tells of the sire, and he of the others.
        walk = walk.at_all_loci()
        if not walk.go():
            return None
    return walk.rows_read()


class _Walk:
    """The way to all who are of some animals' families.

    Attributes:
        begun: those who are asked about, or were changed: then `changed` are clutches that were.
        clutches: of those who are asked about, and of all who may carry something.
        near: clutches near those who are asked about, and who is `beside` them.
        met: those who may carry something, and all who may be their ancestors or their mates'.
    """

    def __init__(
        self,
        inheritance: Inheritance,
        groups: Collection[LocusGroup],
        animals: Collection[int],
        *,
        near: int = 0,
        changed: set[int] | None = None,
    ) -> None:
        self.inheritance, self.groups, self.steps = inheritance, list(groups), near
        self.traits = frozenset(pk for group in groups for pk in group.traits)
        self.lines = frozenset(pk for group in groups for pk in group.lines)
        self.rows = FoldedRows(inheritance.species.pk)
        # What is stored of a change is worked out from all that was seen, as by a recompute.
        self.rows.traits = self.traits if changed is None else None
        self.begun, self.changed = set(animals), changed
        self.clutches: set[int] = set()
        self.near: set[int] = set()
        self.beside: set[int] = set()
        self.met: set[int] = set()
        self.carriers: set[int] = set()

    def at_all_loci(self) -> "_Walk":
        """The same walk at all groups of loci."""
        every = self.inheritance.groups
        return _Walk(self.inheritance, every, self.begun, near=self.steps, changed=self.changed)

    @property
    def has_several_sires(self) -> bool:
        """Whether a clutch of the families has several candidates."""
        return any(len(self.rows.clutches[pk].sires) > 1 for pk in self._live(self.clutches))

    def go(self) -> bool:
        """Walk; whether it came to an end, and nothing ties all families of the species."""
        if any(group.open or has_background(self.inheritance, group) for group in self.groups):
            return False
        most = _most()
        waiting = self._begin() | self._changed(most)
        while waiting := waiting - self.met:
            above, _ = kin.ancestry(waiting)
            bringing = self._bringing(above - self.met)
            below, clutches = kin.descent(bringing - self.carriers, most)
            if len(self.met | above | below) > most:
                return False
            bringing |= self._bringing(below - self.met - above)
            self.met |= above | below
            self.carriers |= below
            own = {self.rows.animals[pk].clutch for pk in bringing} - {None}
            self.clutches |= clutches.union(own)  # type: ignore[arg-type]
            self.rows.clutches.ask(self.clutches)
            waiting = self._parents(below) | self._bought_with(bringing)
        return True

    def _live(self, clutches: Iterable[int]) -> list[int]:
        return [pk for pk in clutches if pk in self.rows.clutches]

    def _begin(self) -> set[int]:
        """Those who are asked about, and those whose families bear on them; read what is near."""
        found, ahead = set(self.begun), set(self.begun)
        for far in range(max(1, self.steps)):
            self.rows.animals.ask(ahead)
            there = [self.rows.animals[pk] for pk in ahead if pk in self.rows.animals]
            self.rows.reach([one.pk for one in there])
            clutches = {clutch for one in there for clutch in self.rows.bred[one.pk]}
            clutches |= {one.clutch for one in there if one.clutch is not None}
            around = {pk for one in there for pk in self.rows.children[one.pk]}
            around = around.union(*(self.rows.parents(one) for one in there))
            around = around.union(*(self.rows.clutches[pk].parents for pk in clutches))
            self.near |= clutches
            self.beside |= ahead
            if far == 0:
                found |= around
                self.clutches |= clutches
            ahead = around.union(*(self.rows.hatched[pk] for pk in clutches)) - ahead
        return found

    def _changed(self, most: int) -> set[int]:
        """All who descend from those who were changed, and the parents of what they bred."""
        if self.changed is None:
            return set()
        below, clutches = kin.descent(self.begun, most)
        self.clutches |= clutches | self.changed
        self.rows.clutches.ask(self.clutches)
        self.rows.animals.ask(below)
        return below | self._parents(below)

    def _bringing(self, animals: set[int]) -> set[int]:
        """Those of some animals by whom a gene of the groups is in the book."""
        self.rows.animals.ask(animals)
        found = {
            pk for rows in (_SAID, _SHOWN) for pk, trait in rows.rows(animals)
            if trait in self.traits
        }  # fmt: skip
        found |= {pk for pk, line in _TESTED.rows(animals) if line in self.lines}
        found |= {pk for pk, lines in self.rows.arisen.items() if lines.keys() & self.lines}
        return {pk for pk in found & animals if pk in self.rows.animals}

    def _parents(self, below: Collection[int]) -> set[int]:
        """The parents of what hatched in the families, and of young without a clutch."""
        stated = (self.rows.animals[pk] for pk in below if pk in self.rows.animals)
        return set[int]().union(
            *(self.rows.clutches[pk].parents for pk in self._live(self.clutches)),
            *(self.rows.parents(one) for one in stated if one.clutch is None),
        )

    def _bought_with(self, animals: Collection[int]) -> set[int]:
        """Those on whom words stand or fall with words on some; what they bred is near."""
        self.rows.statements.ask(animals)
        found = hanging_on(lots(self.rows, animals, self.traits))
        self.rows.reach(found)
        self.near |= {clutch for pk in found for clutch in self.rows.bred[pk]}
        return found

    # --- what was found -------------------------------------------------------------------------

    def rows_read(self) -> FamilyRows:
        """All rows of those who were met, and of what hatched in their families."""
        rows, clutches = self.rows, set(self._live(self.clutches | self.near))
        everyone = self.met | self.beside
        if self.steps:
            near = set(self._live(self.near))
            rows.hatched.ask(near)
            around = kin.Around(everyone.union(*(rows.hatched[pk] for pk in near)))
            around.doubtful = set(around.breeders)
            around.clutches = dict.fromkeys(self.groups, clutches)
            everyone = rows.read_around(self.inheritance, around)
        else:
            rows.hatched.ask(clutches)
            everyone = everyone.union(*(rows.hatched[pk] for pk in clutches))
        everyone = {pk for pk in everyone if pk in rows.animals}
        own = {rows.animals[pk].clutch for pk in everyone} - {None}
        rows.clutches.ask(own)  # type: ignore[arg-type]
        rows.attend(everyone, clutches)
        return self._taken(sorted(everyone), clutches.union(own), clutches)  # type: ignore[arg-type]

    def _taken(
        self, animals: Collection[int], clutches: Collection[int], told: Collection[int]
    ) -> FamilyRows:
        rows = self.rows
        found = FamilyRows(rows.species, traits=rows.traits)
        found.animals = _taken(rows.animals, animals)
        found.clutches = _taken(rows.clutches, sorted(clutches))
        found.observations = _taken(rows.observations, animals)
        found.statements = _taken(rows.statements, animals)
        found.lab_tests = _taken(rows.lab_tests, animals)
        found.tallies = _taken(rows.tallies, sorted(told))
        found.all_shown = _sets(_SHOWN.rows(animals))
        found.all_tested = _sets(_TESTED.rows(animals))
        found.all_hatched_looks = _sets(_HATCHED_LOOKS.rows(told))
        found.arisen, found.telling = rows.arisen, rows.telling
        return found


def _most() -> int:
    """How many may be met; the highest id stands for how many animals there are."""
    last = m.Animal._base_manager.order_by("-pk").values_list("pk", flat=True).first() or 0
    return min(_MOST, max(_FEW, last // _ONE_IN))


def _taken(read: Reached[Value], pks: Iterable[int]) -> dict[int, Value]:
    """What was read of some, where there is anything."""
    return {pk: value for pk in pks if (value := read.get(pk))}


def _sets(rows: Iterable[tuple[int, int]]) -> dict[int, set[int]]:
    found: dict[int, set[int]] = defaultdict(set)
    for pk, other in rows:
        found[pk].add(other)
    return dict(found)


_SAID = Prepared(
    lambda pks: m.Statement.objects.live().filter(animal__in=pks).values_list("animal", "trait")
)
_SHOWN = Prepared(
    lambda pks: (
        m.Observation.objects.live()
        .filter(animal__in=pks, seen=m.Seen.YES)
        .values_list("animal", "trait")
    )
)
_TESTED = Prepared(
    lambda pks: (
        m.LabTest.objects.live()
        .filter(animal__in=pks)
        .exclude(found=m.Found.NONE)
        .values_list("animal", "line")
    )
)
_HATCHED_LOOKS = Prepared(
    lambda pks: (
        m.RowSighting.objects.live()
        .filter(row__clutch__in=pks, row__withdrawn_at=None, seen=True)
        .values_list("row__clutch", "trait")
    )
)
