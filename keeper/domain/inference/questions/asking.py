"""What is asked of the book beside its standings: the parts that bear on some animals."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType
from typing import cast

import genetics
from keeper.domain.book.touched import Touched
from keeper.domain.inference.questions.disputed import groups_in_dispute
from keeper.domain.inference.questions.guests import GUEST, Guest, founder_of
from keeper.domain.inference.reading.carriers import Component, apart, bearing, whole
from keeper.domain.inference.reading.engine_book import EngineBook, engine_book
from keeper.domain.inference.reading.inheritance import LocusGroup
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.standings.computing import SpeciesBook
from keeper.domain.inference.standings.disputes import conflicting, set_aside
from keeper.domain.inference.standings.nearby import FamilyNeeded, Neighbourhood, near
from keeper.domain.inference.standings.sources import row_of
from keeper.domain.inference.standings.stored import Store
from keeper.domain.inference.walking.families import family_rows
from keeper.domain.inference.walking.folded import FoldedRows
from keeper.models import Animal, Chromosome, Species

# Who may be asked about; animals of a sex that is taken for the sake of a question.
Party = Animal | Guest
# A dam and a sire as the engine calls them.
Couple = tuple[str, str]
Sexed = Mapping[int, str]
_AS_RECORDED: Sexed = MappingProxyType({})

# No code of an animal has a line break in it, so these are nobody's own.
YOUNG = "\nyoung"
STRANGER = "\na male not recorded"


class Unanswerable(Exception):
    """A question that the book does not answer; the message says why."""


@dataclass
class Subproblem:
    """Some groups of loci around some animals, in the engine's words.

    Attributes:
        of: the species' book.
        book: the part of the book, the newest of conflicting records set aside.
    """

    of: SpeciesBook
    book: EngineBook

    @property
    def loci(self) -> frozenset[int]:
        """The loci that are decided here."""
        return frozenset(pk for group in self.book.groups for pk in group.loci)

    @property
    def decides_sex(self) -> bool:
        """Whether a locus here is on the sex chromosomes."""
        return any(locus.chromosome != "autosome" for locus in self.book.population.loci)

    def decides(self, trait: int) -> bool:
        """Whether a trait is decided here."""
        return any(trait in group.traits for group in self.book.groups)

    def code(self, who: Party) -> str:
        """How the engine calls an animal."""
        return GUEST if isinstance(who, Guest) else self.of.rows.animals[who.pk].code

    def solve(
        self, queries: Sequence[tuple[tuple[str, str], ...]] = (), *, exact_only: bool = False
    ) -> "genetics.Solved":
        """Solve it with joint tables for the queries.

        Raises:
            Unanswerable: open lines make it too large, or `exact_only` is asked of what can only
                be sampled.
        """
        try:
            return genetics.solve_or_apart(
                self.book.population, queries=tuple(queries), exact_only=exact_only
            )
        except genetics.BeyondExact as beyond:
            raise Unanswerable(
                "This is more than can be worked out exactly while it is open whether some lines "
                "are one gene: decide a pair of lines, then ask again."
            ) from beyond

    @cached_property
    def solved(self) -> "genetics.Solved":
        """The same without joint tables, solved once.

        Raises:
            Unanswerable: open lines make it too large.
        """
        return self.solve()

    def with_records(
        self, *, animals: Iterable[genetics.Animal] = (), traits: Iterable[genetics.Trait] = ()
    ) -> "Subproblem":
        """The same with more animals and more that can be seen."""
        animals, traits = tuple(animals), tuple(traits)
        if not (animals or traits):
            return self
        population = replace(
            self.book.population,
            animals=(*self.book.population.animals, *animals),
            traits=(*self.book.population.traits, *traits),
        )
        return replace(self, book=replace(self.book, population=population))

    def with_young(self, couples: Mapping[str, Couple]) -> "Subproblem":
        """The same with a hatchling of each couple here, by the name that it gets."""
        young = [
            genetics.Animal(id=name, dam=dam, sire=sire) for name, (dam, sire) in couples.items()
        ]
        population = self.book.population.with_young(young)
        return replace(self, book=replace(self.book, population=population))


@dataclass
class Asked:
    """What bears on some animals: subproblems that are independent of one another.

    Attributes:
        of: the species' book.
        subproblems: one for each group of loci of which some of the animals may carry anything.
        clashing: the rows that cannot all be true; the newest of each conflict is set aside.
    """

    of: SpeciesBook
    subproblems: list[Subproblem]
    clashing: tuple[Source, ...] = ()

    @property
    def conflict(self) -> tuple[str, ...]:
        """The clashing rows in words."""
        return tuple(dict.fromkeys(str(row_of(source)) for source in self.clashing))


def around(
    species: Species,
    animals: Iterable[Animal],
    *,
    guest: Guest | None = None,
    sexed: Sexed = _AS_RECORDED,
) -> Asked:
    """Gather what bears on some animals: what is near, or where that does not do, their families.

    A `guest` is among them in every part; `sexed` are taken to be of another sex than recorded.

    Raises:
        Unanswerable: the register itself leaves nothing possible.
    """
    pks = {animal.pk for animal in animals}
    asked = _around(species, pks, frozenset() if guest is None else guest.traits, sexed)
    return asked if guest is None else _with_guest(asked, guest, pks)


def _around(species: Species, pks: set[int], spoken: frozenset[int], sexed: Sexed) -> Asked:
    rows = FoldedRows(species.pk)
    rows.animals.ask(sexed)
    _take_as(rows, sexed)
    of = SpeciesBook(species, rows)
    found, left = _near(of, rows, pks, spoken, sexed)
    if not left:
        return Asked(of, found)
    if not found:
        return families_of(species, pks, sexed=sexed)
    whole = _families_of(species, pks, left, sexed)
    if whole is None:
        # A clutch with several candidates ties them to what is near.
        return families_of(species, pks, sexed=sexed)
    return Asked(of, found + whole.subproblems, whole.clashing)


def _take_as(rows: Rows, sexed: Sexed) -> None:
    for pk, sex in sexed.items():
        rows.animals[pk] = rows.animals[pk]._replace(sex=cast("genetics.Sex", sex))


def _with_guest(asked: Asked, guest: Guest, pks: set[int]) -> Asked:
    """Put a guest into every part, and add the parts that it alone brings genes into."""
    of, there = asked.of, {group for one in asked.subproblems for group in one.book.groups}
    parts = list(asked.subproblems)
    for group in of.inheritance.groups:
        if group not in there and group.traits & guest.traits:
            nobody = Component({group: set()}, {group: set()})
            parts.append(Subproblem(of, engine_book(of.inheritance, of.rows, nobody, also=pks)))
    return replace(
        asked,
        subproblems=[
            one.with_records(animals=[founder_of(of.inheritance, one.book, guest)]) for one in parts
        ],
    )


def _near(
    of: SpeciesBook, rows: FoldedRows, pks: set[int], spoken: frozenset[int], sexed: Sexed
) -> tuple[list[Subproblem], list[LocusGroup]]:
    """What is near in each group of loci, and the groups in which nearness does not hold."""
    store = Store(of.inheritance)
    store.fetch(pks)
    carried = spoken.union(*map(store.traits, pks))
    groups = [group for group in of.inheritance.groups if carried & group.traits]
    left = list(groups_in_dispute(of.inheritance, groups, pks))
    groups = [group for group in groups if group not in left]
    store.fetch(rows.read(of.inheritance, groups, pks))
    parts: list[Neighbourhood] = []
    for group in groups:
        # What is certain of one of another sex may not be so of this one.
        anew = set(sexed) if _on_sex_chromosomes(of, group) else set()
        try:
            parts += near(of.inheritance, rows, store, {group: pks}, anew={group: anew})
        except FamilyNeeded:
            left.append(group)
    rows.attend(
        {pk for part in parts for pk in (*part.inside, *part.border)},
        {clutch for part in parts for clutch in part.clutches},
    )
    return [_subproblem(of, part) for part in parts], left


def _on_sex_chromosomes(of: SpeciesBook, group: LocusGroup) -> bool:
    return any(of.inheritance.loci[pk].chromosome != Chromosome.AUTOSOME for pk in group.loci)


def _subproblem(of: SpeciesBook, part: Neighbourhood) -> Subproblem:
    component = Component({part.group: part.inside}, {part.group: part.clutches})
    book = engine_book(of.inheritance, of.rows, component, also=part.border, certain=part.border)
    return Subproblem(of, book)


def families_of(
    species: Species,
    animals: Iterable[int],
    traits: Collection[int] | None = None,
    *,
    sexed: Sexed = _AS_RECORDED,
    counted: bool = False,
) -> Asked:
    """Gather the whole families of some animals: for all loci, or those of some traits.

    One subproblem, or one for each group of loci where a gene began in these families. Where
    records cannot all be true the newest of each conflict is set aside. With `counted` childless
    hatchlings that are not near are counted by how they looked, as long as all can be true.

    Raises:
        Unanswerable: the register itself leaves nothing possible.
    """
    of, part, pks = _components(species, animals, traits, sexed, counted=counted)
    found = _settled(of, apart(of.rows, part), pks, sexed)
    # What is counted has no names by which one of it could be set aside.
    if counted and found.clashing:
        return families_of(species, pks, traits, sexed=sexed)
    return found


def families_together(
    species: Species, animals: Iterable[int], traits: Collection[int], guest: Guest | None = None
) -> Asked:
    """The families of some animals in some traits, in one part.

    An animal with which a gene began has its parents there at the other loci. With a `guest` it is
    among them, and what it alone brings genes into is in the part too.

    Raises:
        Unanswerable: the register itself leaves nothing possible.
    """
    of, part, pks = _components(species, animals, traits, _AS_RECORDED)
    about = set() if guest is None else guest.traits & set(traits)
    for group in of.inheritance.groups:
        if about & group.traits and group not in part.animals:
            part.animals[group] = set()
            part.clutches[group] = set()
    asked = _settled(of, [part] if part.animals else [], pks)
    if guest is not None:
        asked.subproblems = [
            one.with_records(animals=[founder_of(of.inheritance, one.book, guest)])
            for one in asked.subproblems
        ]
    return asked


def _families_of(
    species: Species, animals: set[int], groups: Collection[LocusGroup], sexed: Sexed
) -> Asked | None:
    """The same for some groups of loci; nothing where a family ties them to others."""
    traits = {trait for group in groups for trait in group.traits}
    of, part, pks = _components(species, animals, traits, sexed)
    if any(group not in groups for group in part.animals):
        return None
    return _settled(of, apart(of.rows, part), pks, sexed)


def _components(
    species: Species,
    animals: Iterable[int],
    traits: Collection[int] | None,
    sexed: Sexed,
    *,
    counted: bool = False,
) -> tuple[SpeciesBook, Component, set[int]]:
    of, about = SpeciesBook(species), set(animals)
    asked: set[int | None] = {None} if traits is None else {*traits}
    touched = Touched(animals={(pk, trait) for pk in about for trait in asked})
    groups = bearing(of.inheritance, touched)
    of.rows = family_rows(of.inheritance, groups, about, counted=counted) or of.rows
    _take_as(of.rows, sexed)
    # Of an animal that was withdrawn nothing is known.
    pks = about & of.rows.animals.keys()
    touched.animals = {(pk, trait) for pk, trait in touched.animals if pk in pks}
    components = of.components(touched)
    of = of.attending(components, narrowly=traits is not None)
    return of, whole(components), pks


def _settled(
    of: SpeciesBook, parts: Iterable[Component], pks: set[int], sexed: Sexed = _AS_RECORDED
) -> Asked:
    found = Asked(of, [])

    def known() -> frozenset[Source]:
        # With another sex than recorded other records may be in conflict than the book's.
        return frozenset() if sexed else conflicting(of.species)

    for part in parts:
        book = engine_book(of.inheritance, of.rows, part, also=pks)
        try:
            settled = set_aside(book, known)
        except genetics.ImpossibleEvidence as fault:
            raise Unanswerable(
                "What is recorded of the lines themselves leaves nothing possible: see the "
                "register."
            ) from fault
        found.subproblems.append(Subproblem(of, settled.book))
        for conflict in settled.conflicts:
            found.clashing += conflict.sources
    return found
