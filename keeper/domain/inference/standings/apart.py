"""Whether what new records touch lies in another family than an open dispute.

What new records say in a family at odds with itself shows only when it is solved whole. Elsewhere
a dispute changes nothing. Two walks go out in step, from the records in dispute and from what was
touched, among those who may carry something of the group: they meet, or one of them has seen the
whole of its family. So the smaller family says how far is walked.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping

from django.db.models import QuerySet

from keeper import models as m
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.rows import named
from keeper.domain.inference.standings.nearby import beside
from keeper.domain.inference.standings.stored import Store
from keeper.domain.inference.walking.reached import ReachedRows
from keeper.models import Dispute, Standing

# Where so many were seen on each side, the families are better solved than walked through.
_MOST = 400


def disputed(
    inheritance: Inheritance, groups: Collection[LocusGroup]
) -> dict[LocusGroup, tuple[set[int], set[int]]]:
    """The animals and clutches of open disputes by group; the queries do not grow with these.

    A dispute that leaves no mark on a standing may be about any group.
    """
    open_ = Dispute.objects.filter(species=inheritance.species, closed=None).order_by()
    conflicts = dict(open_.values_list("pk", "conflict"))
    if not conflicts:
        return {}
    marks = Standing.objects.filter(dispute__in=conflicts).order_by()
    traits: dict[int, set[int]] = defaultdict(set)
    marked: dict[int, set[int]] = defaultdict(set)
    for pk, trait, animal in marks.values_list("dispute_id", "trait_id", "animal_id"):
        traits[pk].add(trait)
        marked[pk].add(animal)
    concerned = {
        group: {pk for pk in conflicts if pk not in traits or traits[pk] & group.traits}
        for group in groups
    }
    whose = _whose(record for records in conflicts.values() for record in records)
    found = {}
    for group, pks in concerned.items():
        animals, clutches = set[int](), set[int]()
        for pk in pks:
            animals |= marked[pk]
            for record in conflicts[pk]:
                kind, names = whose.get((str(record["model"]), int(record["pk"])), ("", None))
                if names is not None:
                    (clutches if kind == "clutch" else animals).add(names)
        if pks:
            found[group] = animals, clutches
    return found


_NAMING: dict[str, tuple[type[m.Record], str]] = {
    "look": (m.Look, "animal"),
    "observation": (m.Observation, "animal"),
    "statement": (m.Statement, "animal"),
    "labtest": (m.LabTest, "animal"),
    "arising": (m.Arising, "animal"),
    "hatchrow": (m.HatchRow, "clutch"),
}


def _whose(records: Iterable[Mapping[str, object]]) -> dict[tuple[str, int], tuple[str, int]]:
    """The animal or the clutch that each record is about, one query for each kind of record."""
    found: dict[tuple[str, int], tuple[str, int]] = {}
    named_by: dict[str, set[int]] = defaultdict(set)
    for record in records:
        kind, pk = str(record["model"]), int(str(record["pk"]))
        if kind in _NAMING:
            named_by[kind].add(pk)
        else:
            found[kind, pk] = kind, pk
    for kind, pks in named_by.items():
        model, column = _NAMING[kind]
        rows: QuerySet[m.Record] = model._base_manager.filter(pk__in=pks).order_by()
        found |= {(kind, pk): (column, of) for pk, of in rows.values_list("pk", f"{column}_id")}
    return found


def lies_apart(
    inheritance: Inheritance,
    rows: ReachedRows,
    store: Store,
    group: LocusGroup,
    *,
    dispute: tuple[set[int], set[int]],
    starts: set[int],
    clutches: set[int],
) -> bool:
    """Whether no family at a group holds both an open dispute and what was touched.

    Not if a clutch with several candidates is on the way: it may tie in families of other groups.
    """
    walks = [
        _Family(inheritance, rows, store, group, *dispute),
        _Family(inheritance, rows, store, group, starts, clutches),
    ]
    one, other = walks
    while one.seen and one.seen.isdisjoint(other.seen) and not (one.tied or other.tied):
        if not (one.waiting and other.waiting):
            return True
        if min(len(one.seen), len(other.seen)) > _MOST:
            return False
        one.step()
        other.step()
    return False


class _Family:
    """A walk through everyone who may be of one family with some animals, at a group of loci."""

    def __init__(
        self,
        inheritance: Inheritance,
        rows: ReachedRows,
        store: Store,
        group: LocusGroup,
        animals: set[int],
        clutches: set[int],
    ) -> None:
        self.inheritance, self.rows, self.store, self.group = inheritance, rows, store, group
        rows.animals.ask(animals)
        rows.clutches.ask(clutches)
        rows.hatched.ask(clutches)
        found = {pk for pk in animals if pk in rows.animals}
        there = {pk for pk in clutches if pk in rows.clutches}
        for pk in there:
            found |= rows.clutches[pk].parents
            found.update(rows.hatched.get(pk, ()))
        self.seen, self.known = set(found), there
        self.tied = self._tie(there)
        # Whoever it begins with is gone on from, whether it may carry anything or not.
        self.waiting = found

    def step(self) -> None:
        """Go on to whoever is beside those who wait; of them only possible carriers go on."""
        self.rows.reach(self.waiting)
        found, clutches = beside(self.rows, self.waiting, self.known)
        self.known |= clutches
        self.tied = self.tied or self._tie(clutches)
        found -= self.seen
        self.seen |= found
        self.waiting = self._carriers(found)

    def _tie(self, clutches: set[int]) -> bool:
        return any(len(self.rows.clutches[pk].sires) > 1 for pk in clutches)

    def _carriers(self, animals: set[int]) -> set[int]:
        """Those who may carry something of the group: who descend from somebody who brought it."""
        parents: dict[int, frozenset[int]] = {}
        waiting, carrying = set(animals), set[int]()
        while waiting:
            self.rows.with_parents(waiting)
            self.store.fetch(waiting)
            told = {pk for pk in waiting if self.store.at(pk, self.group)}
            carrying |= told
            for pk in waiting - told:
                parents[pk] = self.rows.parents(self.rows.animals[pk])
            above = set().union(*(parents[pk] for pk in waiting - told))
            waiting = above - parents.keys() - carrying
        carrying |= self._bringing(parents.keys())
        while more := {
            pk for pk, above in parents.items() if pk not in carrying and above & carrying
        }:
            carrying |= more
        return animals & carrying

    def _bringing(self, animals: Collection[int]) -> set[int]:
        """Those of some animals by whom a gene of the group comes into the book."""
        traits, lines = self.group.traits, self.group.lines
        self.rows.statements.ask(animals)
        found = {
            pk
            for pk in animals
            if any(one.trait in traits for one in self.rows.statements.get(pk, ()))
            or self.rows.arisen.get(pk, {}).keys() & lines
        }
        found |= {pk for pk, seen in self.rows.shown(animals).items() if seen & traits}
        tests = m.LabTest.objects.live().exclude(found=m.Found.NONE).filter(line__in=lines)
        return found | set(
            named(tests, "animal", animals).order_by().values_list("animal_id", flat=True)
        ) & set(animals)
