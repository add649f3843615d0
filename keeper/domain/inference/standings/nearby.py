"""The part of the book that a new record can move: a certain animal lets nothing through.

Whoever's genotype is certain is the same to its relatives whatever else is learnt. From the
animals that a record touches the part reaches along parents, young and clutches up to the certain
ones, which stand at its border with the genotypes they have. What is certain is read from the
stored standings, so nothing beyond the border is looked at. Who may be certain by one young alone
is open without it, and lets through what can move that young's customary figure (`steady`).

Why this is not `genetics.Solved.changed`, which cuts in the same way, stands in
`genetics.increment`.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from keeper.domain.inference.reading.carriers import has_background
from keeper.domain.inference.reading.inheritance import WILD, Inheritance, LocusGroup
from keeper.domain.inference.reading.rows import AnimalRow, Rows
from keeper.domain.inference.reading.statements import hang_together
from keeper.domain.inference.standings.steady import may_be_by_young, steady
from keeper.domain.inference.standings.stored import Store
from keeper.domain.inference.walking.reached import ReachedRows
from keeper.models import Chromosome


@dataclass
class Neighbourhood:
    """What is near for one group of loci.

    Attributes:
        group: the loci.
        inside: animals whose numbers may move.
        border: certain animals beside them, with their genotype keys by name of locus.
        clutches: clutches between them.
        opened: certain ones inside who may not be so without one of their young.
    """

    group: LocusGroup
    inside: set[int]
    border: dict[int, dict[str, str]]
    clutches: set[int]
    opened: set[int]


class FamilyNeeded(Exception):
    """Nearness does not hold here: the whole family must be solved."""


def near(
    inheritance: Inheritance,
    rows: ReachedRows,
    store: Store,
    starts: Mapping[LocusGroup, Collection[int]],
    *,
    anew: Mapping[LocusGroup, Collection[int]] = MappingProxyType({}),
    fresh: Collection[int] = (),
    customary: bool = False,
) -> list[Neighbourhood]:
    """Find what is near some animals in each group of loci.

    `anew` are animals on whom something new is recorded: they are worked out anew, certain or not;
    `fresh` those of them who are new to the book. All groups go outwards in step, a wave of a few
    queries at a time. With `customary` those who may be certain by one young alone are opened: so
    far reaches what can move a customary figure.

    Raises:
        FamilyNeeded: it is open whether lines are one gene, a clutch on the way has several
            candidates, a number on the way is disputed or estimated, genes come by themselves, or
            a word stands or falls with one on another animal.
    """
    walks = [
        _Walk(inheritance, rows, store, group, set(begun), set(anew.get(group, ())))
        for group, begun in starts.items()
    ]
    _go(rows, store, walks, fresh)
    while customary:
        doubted = {walk.part.group: walk.doubted for walk in walks}
        stay = steady(inheritance, rows, doubted)
        opened = [walk.open(stay[walk.part.group]) for walk in walks]
        if not any(opened):
            break
        _step(rows, walks)
        _go(rows, store, walks, fresh)
    rows.statements.ask({pk for walk in walks for pk in (*walk.part.inside, *walk.part.border)})
    for walk in walks:
        if hang_together(rows, walk.part.inside, walk.part.group.traits):
            raise FamilyNeeded
    return [walk.part for walk in walks]


def _go(
    rows: ReachedRows, store: Store, walks: Collection["_Walk"], fresh: Collection[int]
) -> None:
    """Let walks go on, in step, up to the certain."""
    while waiting := set().union(*(walk.waiting for walk in walks)):
        store.fetch(waiting - set(fresh))
        rows.animals.ask(waiting)
        for walk in walks:
            walk.enter(fresh)
        _step(rows, walks)


def _step(rows: ReachedRows, walks: Collection["_Walk"]) -> None:
    rows.reach(set().union(*(walk.entered for walk in walks)))
    for walk in walks:
        walk.step()


class _Walk:
    """The way outwards from some animals in one group of loci."""

    def __init__(
        self,
        inheritance: Inheritance,
        rows: ReachedRows,
        store: Store,
        group: LocusGroup,
        starts: set[int],
        anew: set[int],
    ) -> None:
        if group.open or has_background(inheritance, group):
            raise FamilyNeeded
        self.inheritance, self.rows, self.store = inheritance, rows, store
        self.part = Neighbourhood(group, set(), {}, set(), set())
        self.anew = anew
        self.waiting, self.seen = starts, set(starts)
        self.entered: list[int] = []
        self.doubted: list[int] = []

    def enter(self, fresh: Collection[int]) -> None:
        """Tell the certain from the others among those reached; the others enter."""
        self.entered = []
        group = self.part.group
        for pk in sorted(self.waiting):
            keys = None
            if pk not in fresh:
                keys = _certain(self.inheritance, self.rows, self.store, group, pk)
            if keys is not None and may_be_by_young(self.inheritance, self.store, group, pk):
                self.doubted.append(pk)
            if keys is None or pk in self.anew:
                self.part.inside.add(pk)
                self.entered.append(pk)
            else:
                self.part.border[pk] = keys

    def open(self, steady: Collection[int]) -> list[int]:
        """Let in those of the certain who may be so by one young alone; return them."""
        opened = sorted(pk for pk in self.doubted if pk not in steady)
        for pk in opened:
            self.part.border.pop(pk, None)
        self.part.inside |= set(opened)
        self.part.opened |= set(opened)
        self.entered, self.doubted = opened, []
        return opened

    def step(self) -> None:
        """Go on to whoever is beside those who entered."""
        found, clutches = beside(self.rows, self.entered, self.part.clutches)
        if any(len(self.rows.clutches[pk].sires) > 1 for pk in clutches):
            raise FamilyNeeded
        self.part.clutches |= clutches
        self.waiting = found - self.seen
        self.seen |= self.waiting


def beside(rows: Rows, animals: Iterable[int], known: Collection[int]) -> tuple[set[int], set[int]]:
    """Everyone who shares a parentage with some animals, or a clutch that is not known yet.

    Returns them, and those clutches.
    """
    found, clutches = set[int](), set[int]()
    for pk in animals:
        one = rows.animals[pk]
        clutches.update(rows.bred.get(pk, ()))
        if one.clutch is None:
            found |= rows.parents(one)
        else:
            clutches.add(one.clutch)
        for child in rows.children.get(pk, ()):
            young = rows.animals[child]
            if young.clutch is None:
                found.add(child)
                found |= rows.parents(young)
    clutches -= set(known)
    for clutch in clutches:
        found |= rows.clutches[clutch].parents
        found.update(rows.hatched.get(clutch, ()))
    return found, clutches


def _certain(
    inheritance: Inheritance, rows: Rows, store: Store, group: LocusGroup, pk: int
) -> dict[str, str] | None:
    """Genotype keys by locus of an animal that is certain in the group, else None."""
    standings = store.at(pk, group)
    if not standings:
        return {}
    copies: dict[int, list[str]] = defaultdict(list)
    singles = 0
    if any(one.dispute or one.error or one.apart for one in standings.values()):
        raise FamilyNeeded
    for (_, line), one in standings.items():
        if line is None:
            continue
        if not {one.two, one.one, one.none} <= {0.0, 1.0}:
            return None
        here = inheritance.lines[line]
        copies[here.locus_id] += [here.code] * round(2 * one.two + one.one)
        singles += round(one.one)
    if singles > 1 and len(group.loci) > 1:
        # Which alleles lie together may still be open.
        return None
    animal = rows.animals[pk]
    keys = {
        inheritance.loci[locus].name: _key(inheritance, animal, locus, codes)
        for locus, codes in copies.items()
    }
    if None in keys.values():
        return None
    return {name: key for name, key in keys.items() if key is not None}


def _key(inheritance: Inheritance, animal: AnimalRow, locus: int, codes: list[str]) -> str | None:
    """The key of certain copies; None if sex or arrangement leave it open."""
    on_sex = inheritance.loci[locus].chromosome != Chromosome.AUTOSOME
    hetero = inheritance.heterogametic
    if on_sex and len(set(codes)) < 2 and len(codes) == 1 and animal.sex in (hetero, "unknown"):
        mark = inheritance.single_mark(locus)
        return f"{codes[0]}/{mark}" if mark is not None and animal.sex == hetero else None
    if on_sex and len(set(codes)) == 2 and animal.sex != _other(hetero):
        return None
    order = inheritance.locus(locus).alleles
    return "/".join(sorted([*codes, WILD, WILD][:2], key=order.index))


def _other(sex: str | None) -> str:
    return "female" if sex == "male" else "male"
