"""Whether lines of one look are one gene or two: what the whole book says of it.

Lines that share a locus are one gene. Of lines at loci of their own an open pair says that they
may be one after all; the engine holds every reading of the open pairs that is consistent and
weighs it by all that hatched. Two lines can so be in doubt by way of a third as well.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import genetics
from keeper import models as m
from keeper.domain.book.touched import Touched
from keeper.domain.inference.questions.asking import Unanswerable
from keeper.domain.inference.reading.carriers import Component, together
from keeper.domain.inference.reading.engine_book import EngineBook, engine_book
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.rows import ClutchRow
from keeper.domain.inference.reading.showed import alike, showed
from keeper.domain.inference.standings.computing import SpeciesBook
from keeper.domain.inference.standings.copies import unsure
from keeper.domain.inference.standings.disputes import Conflict, conflicting, set_aside
from keeper.domain.inference.standings.sources import row_of

# Clutches that are weighed for one pair, the newest first: each costs an inference of all that
# bears, so of a large book fewer are.
_MOST_WEIGHED = 24
_ANIMALS_WEIGHED = 12_000

_TOO_LARGE = (
    "This is more than can be worked out exactly while so many pairs of lines are open: decide "
    "one of them, then ask again."
)
_NOTHING_POSSIBLE = (
    "What is recorded of the lines themselves leaves nothing possible: see the register."
)


@dataclass(frozen=True)
class LinePair:
    """Two lines of one look.

    Attributes:
        one, other: line ids, the lower first.
        open: whether it is in doubt: an open pair, or lines that a third may join.
        before: the chance of one gene before any cross, the other open pairs considered.
        now: the same after all that hatched; exactly 0 or 1 only where nothing else is possible.
    """

    one: int
    other: int
    open: bool
    before: float
    now: float


@dataclass(frozen=True)
class LinePairs:
    """Every two lines of a look, and what the figures leave out.

    Attributes:
        pairs: in the order of the lines' codes.
        exact: whether every figure is.
        conflict: rows that cannot all be true, in words; the newest of them is left out.
    """

    pairs: tuple[LinePair, ...]
    exact: bool = True
    conflict: tuple[str, ...] = ()


@dataclass(frozen=True)
class BookCross:
    """A clutch of which one parent may carry the one line and the other the other.

    Attributes:
        clutch: its id.
        showed, looked: hatchlings that showed the look, of those that could have.
        without: the chance of one gene without what hatched here; None if it was not weighed.
    """

    clutch: int
    showed: int
    looked: int
    without: float | None = None


@dataclass(frozen=True)
class PairEvidence:
    """What the book says of two lines; `crosses` the weightiest first, if they are open."""

    pair: LinePair
    crosses: tuple[BookCross, ...]
    exact: bool = True
    conflict: tuple[str, ...] = ()


@dataclass
class Whole:
    """All of the book that bears on a look's lines, solved.

    Attributes:
        of: the species' book.
        group: the loci that depend on one another.
        book: the population, the newest of conflicting records set aside; None if nobody carries
            any of the lines.
        solved: the answer to it.
    """

    of: SpeciesBook
    group: LocusGroup
    book: EngineBook | None = None
    solved: "genetics.Solved | None" = None
    conflicts: Sequence[Conflict] = field(default_factory=list)

    @property
    def inheritance(self) -> Inheritance:
        """The species' loci, lines and traits."""
        return self.of.inheritance

    @property
    def conflict(self) -> tuple[str, ...]:
        """The clashing rows in words."""
        rows = (source for one in self.conflicts for source in one.sources)
        return tuple(dict.fromkeys(str(row_of(source)) for source in rows))

    def locus_of(self, line: int) -> str:
        """The engine's name of the locus at which a line is written."""
        return str(self.inheritance.loci[self.inheritance.lines[line].locus_id].name)

    def code(self, animal: int) -> str:
        """How the engine calls an animal."""
        return self.of.rows.animals[animal].code


def whole(trait: m.Trait) -> Whole:
    """Solve all that bears on a look's lines: its group of loci, every family of it.

    Raises:
        Unanswerable: open pairs make it too large, or the register leaves nothing possible.
    """
    of = SpeciesBook(trait.species)
    loci = of.inheritance.loci_of(trait)
    group = next(one for one in of.inheritance.groups if loci <= one.loci)
    of, component = _component(of, group, trait.pk)
    if not component.animals:
        return Whole(of, group)
    try:
        settled = set_aside(
            engine_book(of.inheritance, of.rows, component), lambda: conflicting(trait.species)
        )
    except genetics.BeyondExact as beyond:
        raise Unanswerable(_TOO_LARGE) from beyond
    except genetics.ImpossibleEvidence as fault:
        raise Unanswerable(_NOTHING_POSSIBLE) from fault
    return Whole(of, group, settled.book, settled.solved, settled.conflicts)


def _component(of: SpeciesBook, group: LocusGroup, trait: int) -> tuple[SpeciesBook, Component]:
    """The parts of the book in which the group is solved, put together; the book of them."""
    members = of.families(group)
    animals = set(members.root)
    for clutch in members.clutch_root:
        animals |= of.rows.clutches[clutch].parents
    components = of.components(Touched(animals={(pk, trait) for pk in animals}))
    of = of.attending(components)
    parts = together(of.rows, [component for component in components if group in component.animals])
    return of, next((one for one in parts if group in one.animals), Component({}, {}))


def line_pairs(trait: m.Trait) -> LinePairs:
    """Return one gene, two genes or open, with its chance, for every two lines of a look.

    Raises:
        Unanswerable: open pairs make it too large, or the register leaves nothing possible.
    """
    inheritance = Inheritance.load(trait.species)
    lines = sorted(inheritance.lines_of(trait), key=lambda line: line.code)
    if not in_doubt(inheritance, lines):
        return LinePairs(tuple(_settled(a, b) for a, b in combinations(lines, 2)))
    solved = whole(trait)
    return LinePairs(
        tuple(line_pair(solved, a, b) for a, b in combinations(lines, 2)),
        solved.solved is None or solved.solved.exact,
        solved.conflict,
    )


def in_doubt(inheritance: Inheritance, lines: Iterable[m.Line]) -> bool:
    """Whether one of the lines is in an open pair."""
    pks = {line.pk for line in lines}
    return any({pair.one_id, pair.other_id} & pks for pair in inheritance.open_pairs)


def line_pair(book: Whole, one: m.Line, other: m.Line) -> LinePair:
    """Return two lines of a look with the chance that they are one gene."""
    before = _weigh(book, one, other, _readings(book))
    stated = any({one.pk, other.pk} == {p.one_id, p.other_id} for p in book.inheritance.open_pairs)
    if one.locus_id == other.locus_id or not (stated or 0 < before < 1):
        return _settled(one, other)
    now = before if book.solved is None else chance_of_one(book, book.solved, one.pk, other.pk)
    first, second = sorted((one.pk, other.pk))
    return LinePair(first, second, True, before, now)


def _settled(one: m.Line, other: m.Line) -> LinePair:
    certain = 1.0 if one.locus_id == other.locus_id else 0.0
    first, second = sorted((one.pk, other.pk))
    return LinePair(first, second, False, certain, certain)


def _readings(book: Whole) -> list[tuple[float, "genetics.Partition"]]:
    """Every consistent reading of the open pairs with its prior."""
    parts = book.inheritance.engine_parts(book.group.loci, ())
    return genetics.hypotheses(genetics.Population(animals=(), **parts))


def _weigh(
    book: Whole, one: m.Line, other: m.Line, readings: list[tuple[float, "genetics.Partition"]]
) -> float:
    names = {book.locus_of(one.pk), book.locus_of(other.pk)}
    same = [p for p, classes in readings if is_one(classes, names)]
    total = float(sum(same))
    return (1.0 if len(same) == len(readings) else unsure(total)) if same else 0.0


def is_one(classes: Iterable[Sequence[str]], names: set[str]) -> bool:
    """Whether loci of these names are one in a reading, given as classes of loci."""
    return any(names <= set(members) for members in classes)


def chance_of_one(book: Whole, solved: "genetics.Solved", one: int, other: int) -> float:
    """The posterior probability that two lines at loci of their own are one gene."""
    names = {book.locus_of(one), book.locus_of(other)}
    worlds = zip(solved.worlds, solved.chance, strict=True)
    same = [chance for world, chance in worlds if is_one(world.classes, names)]
    if len(same) == len(solved.worlds):
        return 1.0
    return unsure(float(sum(same)))


# --- the book's own crosses ---------------------------------------------------------------------


def pair_evidence(
    one: m.Line, other: m.Line, *, first: int | None = None, book: Whole | None = None
) -> PairEvidence:
    """Return how two lines of a look stand, and what each cross of the book says of it.

    A cross is weighed by leaving out everything that was seen on its hatchlings. Of lines that
    are settled no cross is weighed: nothing is left to move. `first` is the id of a clutch to
    weigh before the others, of which a large book weighs only the newest.

    Raises:
        Unanswerable: open pairs make it too large, or the register leaves nothing possible.
    """
    inheritance = Inheritance.load(one.trait.species)
    if not in_doubt(inheritance, inheritance.lines_of(one.trait)):
        return PairEvidence(_settled(one, other), _unweighed(one, other))
    book = book or whole(one.trait)
    pair = line_pair(book, one, other)
    crosses = _unweighed(one, other)
    if pair.open and book.book is not None:
        crosses = tuple(sorted(crosses, key=lambda cross: cross.clutch != first))
        crosses = _weighed(book, book.book, one, other, crosses)
        crosses = tuple(sorted(crosses, key=lambda cross: _weight(cross, pair.now)))
    return PairEvidence(pair, crosses, book.solved is None or book.solved.exact, book.conflict)


def _weight(cross: BookCross, now: float) -> float:
    return 1.0 if cross.without is None else -abs(cross.without - now)


def _unweighed(one: m.Line, other: m.Line) -> tuple[BookCross, ...]:
    """The clutches in which the two lines may have met, the newest first."""
    of = SpeciesBook(one.trait.species)
    carriers = {line.pk: _carriers(line) for line in (one, other)}
    rows = of.rows
    bearing = [
        clutch
        for clutch in reversed(rows.clutches.values())
        if _meet(clutch, carriers[one.pk], carriers[other.pk])
    ]
    young = {pk for clutch in bearing for pk in rows.hatched.get(clutch.pk, ())}
    rows = rows.attend(young, {clutch.pk for clutch in bearing})
    found = []
    for clutch in bearing:
        hatched = alike(of.inheritance, rows, clutch.pk)
        seen, looked = showed(hatched, one.trait_id)
        if looked:
            found.append(BookCross(clutch.pk, seen, looked))
    return tuple(found)


def _carriers(line: m.Line) -> set[int]:
    """Animals that may carry a line."""
    may = m.Standing.objects.filter(line=line, none__lt=1)
    return set(may.values_list("animal_id", flat=True))


def _meet(clutch: ClutchRow, one: set[int], other: set[int]) -> bool:
    """Whether the dam may bring the one line and a sire the other."""
    sires = {sire for sire, _ in clutch.sires if sire}
    return bool((clutch.dam in one and sires & other) or (clutch.dam in other and sires & one))


def _weighed(
    book: Whole,
    engine: EngineBook,
    one: m.Line,
    other: m.Line,
    crosses: tuple[BookCross, ...],
) -> tuple[BookCross, ...]:
    """The crosses with the chance of one gene without each; the oldest of very many without."""
    if not crosses:
        return ()
    population = engine.population
    # Whether lines are one gene is told by every family, so that any animal has all that bears.
    population = genetics.relevant(population, population.animals[0].id, book.locus_of(one.pk))
    names = frozenset(genetics.records(population))
    told = _told_by(book, engine.sources, names)
    spaces: genetics.Spaces = {}
    most = min(_MOST_WEIGHED, max(1, _ANIMALS_WEIGHED // len(population.animals)))
    found = []
    for number, cross in enumerate(crosses):
        without = None
        if number < most:
            left = genetics.known_only(population, names - told.get(cross.clutch, set()))
            solved = genetics.solve(left, spaces=spaces)
            without = chance_of_one(book, solved, one.pk, other.pk)
        found.append(BookCross(cross.clutch, cross.showed, cross.looked, without))
    return tuple(found)


def _told_by(
    book: Whole,
    sources: Mapping[genetics.RecordName, tuple[tuple[str, int], ...]],
    names: frozenset[genetics.RecordName],
) -> dict[int, set[genetics.RecordName]]:
    """Clutch → the engine's records of what was seen and found on its hatchlings."""
    rows = book.of.rows
    clutch_of = {
        ("hatchrow", row.pk): clutch for clutch, listed in rows.tallies.items() for row in listed
    }
    for pk, one in rows.animals.items():
        if one.clutch is not None:
            seen = rows.observations.get(pk, {}).values()
            clutch_of |= {look.source: one.clutch for last in seen for look in last.all()}
            clutch_of |= {("labtest", t.pk): one.clutch for t in rows.lab_tests.get(pk, ())}
    found: dict[int, set[genetics.RecordName]] = {}
    for name in names:
        for source in sources.get(name, ()):
            if source in clutch_of:
                found.setdefault(clutch_of[source], set()).add(name)
    return found
