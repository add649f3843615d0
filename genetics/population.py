"""What is known of a population, as frozen records.

The records mirror the contract's case files one to one: a `Population` holds inheritance
(loci, linkage, viability), what can be seen (traits), animals and clutches with their evidence,
and the pairs of lines that may be one locus.  `Questions` holds what is asked of it.

Animals, clutches and couples are named tuples, quick to make by the ten thousand (`_replace` makes
a changed one), the rest frozen dataclasses.  Records may share their mappings: what is the same
object is checked and laid out once.  A book that is held as columns gives its animals as an
`AnimalTable` (`genetics.animal_table`) in place of the tuple.

A record that is constructed is not yet checked; `Population` checks itself as a whole
(`genetics.validation`) and raises `MalformedCase` with the place of the first fault.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from fractions import Fraction
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal, NamedTuple, Never

if TYPE_CHECKING:
    from genetics.animal_table import AnimalTable
    from genetics.columns import Columns
    from genetics.plans.questions import (
        ForecastQuestion,
        RoutesQuestion,
        SeasonQuestion,
        TestQuestion,
    )

Number = Fraction | float | int
Sex = Literal["female", "male", "unknown"]
SexDetermination = Literal["XY", "ZW", "none"]
Chromosome = Literal["autosome", "X", "Z", "sex"]
Paternity = Literal["one", "each"]

NO_SIRE = "none"
"""In place of a sire: the young are of their dam alone.  No animal is called so."""
Retained = Number | tuple[tuple[str, Number], ...]
"""Chance that a locus of a young without sire stays as its dam's: one, or (locus, chance) pairs."""

NOTHING: Mapping[str, Never] = MappingProxyType({})


def _nothing() -> Mapping[str, Never]:
    return NOTHING


@dataclass(frozen=True, slots=True)
class Locus:
    """A locus; `alleles` lists the wild type first, `recombination` is with the sex factor."""

    id: str
    alleles: tuple[str, ...]
    chromosome: Chromosome = "autosome"
    recombination: Number = 0


@dataclass(frozen=True, slots=True)
class Interval:
    """Recombination fractions between two neighbouring loci of a map, by sex of the parent."""

    female: Number
    male: Number


@dataclass(frozen=True, slots=True)
class Linkage:
    """Autosomal loci in map order and the `len(loci) - 1` intervals between them."""

    loci: tuple[str, ...]
    recombination: tuple[Interval, ...]


@dataclass(frozen=True, slots=True)
class Viability:
    """Survival of one genotype from egg to hatchling, relative to the others."""

    locus: str
    genotype: str
    survival: Number


@dataclass(frozen=True, slots=True)
class Trait:
    """Something that can be seen.

    `shown_by` lists alternatives, each a mapping from loci to accepted genotype keys;
    `recessive_at` lists loci of which two non-wild copies show it.  `hides` names the traits it
    makes invisible, `"*"` for all others.
    """

    id: str
    shown_by: tuple[Mapping[str, tuple[str, ...]], ...] = ()
    recessive_at: tuple[str, ...] = ()
    hides: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sighting:
    """A trait seen or not seen, with the chances that the eye errs."""

    seen: bool
    false_negative: Number = 0
    false_positive: Number = 0


@dataclass(frozen=True, slots=True)
class FounderRow:
    """One row of a joint statement: its probability and a genotype key for some loci."""

    p: Number
    genotypes: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Statement:
    """What somebody said of an animal; it holds, or not, with all that names the same trust.

    `founder` and `founder_joint` are for a founder (or for loci that begin with the animal), whose
    own `founder` they replace at their loci.
    """

    trust: str
    founder: Mapping[str, Mapping[str, Number]] = field(default_factory=_nothing)
    founder_joint: tuple[FounderRow, ...] = ()
    likelihood: Mapping[str, Mapping[str, Number]] = field(default_factory=_nothing)

    @property
    def founder_loci(self) -> frozenset[str]:
        """The loci at which it says what a founder is."""
        return frozenset(self.founder).union(*(row.genotypes for row in self.founder_joint))

    def at(self, loci: Collection[str]) -> Statement:
        """The statement with what it says at some loci alone; a joint one that names any stays."""
        joint = any(locus in loci for row in self.founder_joint for locus in row.genotypes)
        return Statement(
            self.trust,
            {locus: said for locus, said in self.founder.items() if locus in loci},
            self.founder_joint if joint else (),
            {locus: said for locus, said in self.likelihood.items() if locus in loci},
        )


class Animal(NamedTuple):
    """A recorded animal with its parents (`dam`/`sire` or `clutch`) and its evidence.

    `sire` may be `NO_SIRE`; `retained` is for such an animal alone. At the loci in `begins` it has
    nothing from its parents, as where a mutation began with it: there it is a founder, of which
    `founder`, `founder_joint` and statements speak. Loci that are linked, that may be one or that
    lie on the sex chromosomes begin together; with the last its sex is as a founder's.
    """

    id: str
    sex: Sex = "unknown"
    dam: str | None = None
    sire: str | None = None
    clutch: str | None = None
    founder: Mapping[str, Mapping[str, Number]] = NOTHING
    founder_joint: tuple[FounderRow, ...] = ()
    shows: Mapping[str, Sighting] = NOTHING
    likelihood: Mapping[str, Mapping[str, Number]] = NOTHING
    retained: Retained = 0
    statements: tuple[Statement, ...] = ()
    begins: tuple[str, ...] = ()


class Couple(NamedTuple):
    """A possible pair of parents with its prior probability; `None` is an unrecorded parent.

    With the sire `NO_SIRE` it is the dam alone, whose young stay as she is with the chances
    `retained`.
    """

    dam: str | None
    sire: str | None
    p: Number = 1
    retained: Retained = 0


@dataclass(frozen=True, slots=True)
class TallyLine:
    """`count` hatchlings without records of their own that looked the same."""

    count: int
    sex: Sex = "unknown"
    shows: Mapping[str, Sighting] = field(default_factory=_nothing)


class Clutch(NamedTuple):
    """A clutch; `stated_candidates` tells a list of candidates from a plain dam and sire."""

    id: str
    candidates: tuple[Couple, ...]
    paternity: Paternity = "one"
    tally: tuple[TallyLine, ...] = ()
    stated_candidates: bool = False


@dataclass(frozen=True, slots=True)
class SameLocus:
    """Two lines of one look that may be one locus, and the prior probability that they are."""

    loci: tuple[str, str]
    prior: Number


@dataclass(frozen=True)
class Population:
    """Everything known: inheritance, traits, animals, clutches and undecided lines.

    `females` is the share of females where chromosomes do not decide the sex, else a half.
    `trust` has for each name that statements give the chance that what was said under it holds.

    Raises:
        MalformedCase: a record contradicts the contract; names the place and what is accepted.
    """

    loci: tuple[Locus, ...]
    animals: tuple[Animal, ...] | AnimalTable
    clutches: tuple[Clutch, ...] = ()
    traits: tuple[Trait, ...] = ()
    sex_determination: SexDetermination = "none"
    linkage: tuple[Linkage, ...] = ()
    viability: tuple[Viability, ...] = ()
    background: Mapping[str, Mapping[str, Number]] = field(default_factory=_nothing)
    same_locus: tuple[SameLocus, ...] = ()
    trust: Mapping[str, Number] = field(default_factory=_nothing)
    females: Number = Fraction(1, 2)

    def __post_init__(self) -> None:
        from genetics.validation import validate

        validate(self)

    def trusted(
        self, animals: tuple[Animal, ...] | AnimalTable, clutches: tuple[Clutch, ...]
    ) -> Population:
        """The population with other records that were checked already, without a check anew.

        For records taken away from a population that was checked as a whole, and for those that
        were checked together with all that they name.
        """
        made = object.__new__(Population)
        for one in fields(Population):
            object.__setattr__(made, one.name, getattr(self, one.name))
        object.__setattr__(made, "animals", animals)
        object.__setattr__(made, "clutches", clutches)
        return made

    def with_young(self, young: Iterable[Animal]) -> Population:
        """The population with young of its animals, of which nothing is known but the parents.

        Raises:
            MalformedCase: of a parent that is not there, or of the other sex.
        """
        from genetics.validation_pedigree import check_pedigree

        made = self.trusted((*self.animals, *young), self.clutches)
        check_pedigree(made)
        return made

    def words_apart(self) -> Population:
        """The population with a trust of its own for each animal spoken of, no longer shared.

        For where shared trusts tie too much together: what is said of each animal is weighed as it
        was, and one animal tells nothing of the words on another, so it is to be marked.
        """
        trust = dict(self.trust)
        animals = list(self.animals)
        for i in self.columns.told:
            own = []
            for one in animals[i].statements:
                name = f"{one.trust}\n{animals[i].id}"
                trust[name] = self.trust[one.trust]
                own.append(replace(one, trust=name))
            animals[i] = animals[i]._replace(statements=tuple(own))
        return replace(self, animals=tuple(animals), trust=trust)

    @cached_property
    def columns(self) -> Columns:
        """All records field by field; treat as read-only."""
        from genetics.columns import Columns

        return Columns(self)

    @cached_property
    def animal_index(self) -> dict[str, int]:
        """Position of each animal by its id, in order."""
        return self.columns.index

    @cached_property
    def clutch_index(self) -> dict[str, int]:
        """Position of each clutch by its id, in order."""
        return self.columns.clutch_index

    @cached_property
    def locus_index(self) -> dict[str, int]:
        """Position of each locus by its id."""
        return {locus.id: index for index, locus in enumerate(self.loci)}

    @cached_property
    def sexes(self) -> tuple[Sex, ...]:
        """Sex of each animal, as recorded or as its use for a dam or sire tells."""
        return self.columns.sex


@dataclass(frozen=True, slots=True)
class JointQuestion:
    """The chance that one animal has one of the given genotypes at each of several loci."""

    animal: str
    genotypes: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Goal:
    """What a hatchling must show (`True`) or not show, carry, and be."""

    shows: Mapping[str, bool] = field(default_factory=_nothing)
    genotypes: Mapping[str, tuple[str, ...]] = field(default_factory=_nothing)
    sex: Literal["female", "male"] | None = None


@dataclass(frozen=True, slots=True)
class OffspringQuestion:
    """What a couple gives: looks by chance, and the goal out of given numbers of hatchlings.

    With the sire `NO_SIRE` the dam is asked alone, with the chances `retained`.
    """

    dam: str
    sire: str
    eggs: tuple[int, ...] = ()
    goal: Goal | None = None
    retained: Retained = 0


@dataclass(frozen=True, slots=True)
class Questions:
    """All that a case asks."""

    joint: tuple[JointQuestion, ...] = ()
    offspring: tuple[OffspringQuestion, ...] = ()
    kinship: tuple[tuple[str, str], ...] = ()
    inbreeding: tuple[str, ...] = ()
    test: tuple[TestQuestion, ...] = ()
    forecast: tuple[ForecastQuestion, ...] = ()
    routes: tuple[RoutesQuestion, ...] = ()
    season: SeasonQuestion | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """A population and the questions asked of it.

    Raises:
        MalformedCase: a question names what the population does not have.
    """

    population: Population
    ask: Questions = field(default_factory=Questions)

    def __post_init__(self) -> None:
        from genetics.validation_questions import validate_questions

        validate_questions(self.population, self.ask)
