"""Why the figure is what it is: what each piece of evidence contributes, and how it moved.

A record left out here is *not known*, which is not the same as the "anything goes" of a conflict
set (`genetics.conflict`):

* a sighting, a likelihood, a tally line: nobody looked;
* a founder's statement, also one that hangs on a trust: the founder is drawn from the background
  like any other;
* parents: the animal (or the whole clutch, as siblings) has an unrecorded couple of its own,
  both drawn from the background.

Sexes, background, traits and inheritance stay.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace
from math import exp, inf, log
from typing import Any, Protocol

from genetics.checks import refuse, refuse_unknown, shown
from genetics.compiled import compile_always
from genetics.errors import ImpossibleEvidence
from genetics.keys import SEXES, accepted_keys, covered_keys, key_alleles
from genetics.population import (
    Animal,
    Clutch,
    Couple,
    Locus,
    Population,
    SexDetermination,
    Statement,
)
from genetics.record_names import (
    Part,
    RecordName,
    has_parents,
    parents_of,
    records,
    seen_of,
    stated_of,
    statement_of,
    tally_line,
    unused_id,
)
from genetics.relevance import relevant
from genetics.solving import CELLS, Spaces, solve

MANY = 500
"""Records times animals from which on compiled loops pay: all is solved once a record."""


class Date(Protocol):
    """What can be sorted among its like."""

    def __lt__(self, other: Any, /) -> bool: ...


_EVIDENCE: tuple[Part, ...] = ("founder", "founder_joint", "shows", "likelihood")
Progress = Callable[[int, int], None]
"""Called with the number of figures worked out and the number to work out."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one record does to a figure.

    Attributes:
        record: its name.
        chance: the figure with all records.
        without: the figure without this one; `None` if the others alone cannot all be true.
        weight: natural logarithm of the Bayes factor, log odds with minus log odds without:
            positive speaks for, negative against; ±inf where it settles what was open (or
            opens what was settled); `None` where `without` is.
        exact: whether both figures are exact.
    """

    record: RecordName
    chance: float
    without: float | None
    weight: float | None
    exact: bool = True

    @property
    def moved(self) -> float:
        """Size of the move, 0 to 1; infinite if nothing stands without the record."""
        return inf if self.without is None else abs(self.chance - self.without)

    @property
    def bayes_factor(self) -> float | None:
        """Odds with the record over odds without it."""
        if self.weight is None:
            return None
        return exp(self.weight) if self.weight < 700 else inf  # exp(710) is no double


@dataclass(frozen=True, slots=True)
class Step:
    """The figure before and after a record was added; `when` is its date, `None` if undated.

    A figure is `None` while the records so far cannot all be true, as when a look was noted
    before the founder that brought it.
    """

    record: RecordName
    when: Date | None
    before: float | None
    after: float | None
    exact: bool = True


def carrier_keys(locus: Locus, sex_determination: SexDetermination, allele: str) -> frozenset[str]:
    """Keys of either sex with at least one copy of an allele.

    >>> sorted(carrier_keys(Locus("sg", ("+", "har")), "XY", "har"))
    ['+/har', 'har/har']

    Raises:
        MalformedCase: the locus has no such allele.
    """
    if allele not in locus.alleles:
        refuse_unknown("allele", "allele", allele, locus.alleles)
    keys = accepted_keys(locus, sex_determination)
    return frozenset(key for key in keys if allele in key_alleles(locus, key))


def contributions(
    population: Population,
    animal: str,
    locus: str,
    keys: Collection[str],
    *,
    limit: float = CELLS,
    progress: Progress | None = None,
) -> tuple[Contribution, ...]:
    """What each record that can matter does to P(animal's genotype at locus is one of keys).

    Leave-one-out: weight = ln[(c / (1 − c)) / (w / (1 − w))] with chance c, and w without the
    record, which for a sighting is ln[P(record | yes, rest) / P(record | no, rest)].  Records of
    animals and loci that cannot bear on the figure are left out.  The record that moves the
    figure most comes first; before it those without which the rest cannot be.

    Raises:
        MalformedCase: no such animal or locus, or no such key there for its sex.
        ImpossibleEvidence: the records that can matter cannot all be true.
        BeyondExact: exact inference needs more than `limit` table cells.
    """
    book = _Book.open(population, animal, locus, keys, limit)
    everything = frozenset(book.names)
    now = book.odds(everything)
    if now is None:
        raise ImpossibleEvidence(f"the records that bear on {animal} cannot all be true")
    found = []
    for number, name in enumerate(book.names, start=1):
        found.append(_contribution(name, now, book.odds(everything - {name})))
        if progress is not None:
            progress(number, len(book.names))
    return tuple(sorted(found, key=_influence))


def history(
    population: Population,
    animal: str,
    locus: str,
    keys: Collection[str],
    dated: Sequence[tuple[RecordName, Date | None]],
    *,
    limit: float = CELLS,
    progress: Progress | None = None,
) -> tuple[Step, ...]:
    """How P(animal's genotype at locus is one of keys) moved as records were added.

    The pedigree (parents, sexes) is known from the start.  Then come the records without a
    date, in the order of `records`, then the dated ones, in the order of their
    dates and of `dated` within one; dates need only be sortable among themselves.  Only records
    that can matter make a step; the last step's `after` is the figure of the whole book.

    Raises:
        MalformedCase: no such animal, locus, key or record, or a record dated twice.
        BeyondExact: exact inference needs more than `limit` table cells.
    """
    book = _Book.open(population, animal, locus, keys, limit)
    order = _by_date(population, book.names, dated)
    known = frozenset(_parents(book.population))
    order = [(name, when) for name, when in order if name not in known]
    steps: list[Step] = []
    before = book.odds(known)
    for number, (name, when) in enumerate(order, start=1):
        known |= {name}
        after = book.odds(known)
        steps.append(
            Step(name, when, _chance(before), _chance(after), _exact(before) and _exact(after))
        )
        before = after
        if progress is not None:
            progress(number, len(order))
    return tuple(steps)


def known_only(population: Population, known: Collection[RecordName]) -> Population:
    """The population as it is to one who knows only the named records (see the module's rule)."""
    return all_but(population, frozenset(records(population)).difference(known))


def all_but(population: Population, gone: Collection[RecordName]) -> Population:
    """The population as it is to one who knows all but the named records.

    What is left whole stays the very record that it was.
    """
    owners = {name.owner for name in gone}
    clutches = [
        _known_clutch(clutch, gone) if clutch.id in owners else clutch
        for clutch in population.clutches
    ]
    animals = []
    for animal, sex in zip(population.animals, population.sexes, strict=True):
        left = _known_animal(animal, gone) if animal.id in owners else animal
        if left.sex != sex:
            left = left._replace(sex=sex)
        if animal.id in owners and has_parents(animal) and parents_of(animal) in gone:
            nest = unused_id(population, str(parents_of(animal)))
            clutches.append(Clutch(nest, (Couple(None, None),)))
            left = left._replace(dam=None, sire=None, clutch=nest, retained=0)
        animals.append(left)
    return population.trusted(tuple(animals), tuple(clutches))


def _parents(population: Population) -> set[RecordName]:
    """Names of the records that make the pedigree."""
    found = {parents_of(animal) for animal in population.animals if has_parents(animal)}
    return found | {parents_of(clutch) for clutch in population.clutches}


def _known_animal(animal: Animal, gone: Collection[RecordName]) -> Animal:
    had = (*stated_of(animal), *seen_of(animal))
    left = [name for name in had if name not in gone]
    if len(left) == len(had):
        return animal
    of = {part: {name.of for name in left if name.part == part} for part in _EVIDENCE}
    return animal._replace(
        founder={locus: p for locus, p in animal.founder.items() if locus in of["founder"]},
        founder_joint=animal.founder_joint if of["founder_joint"] else (),
        shows={trait: seen for trait, seen in animal.shows.items() if trait in of["shows"]},
        likelihood={x: w for x, w in animal.likelihood.items() if x in of["likelihood"]},
        statements=tuple(
            # Left out, it keeps its place, as the others are named by theirs.
            one if statement_of(animal.id, line) not in gone else Statement(one.trust)
            for line, one in enumerate(animal.statements)
        ),
    )


def _known_clutch(clutch: Clutch, gone: Collection[RecordName]) -> Clutch:
    tally = tuple(
        line if tally_line(clutch.id, i) not in gone else replace(line, count=0)
        for i, line in enumerate(clutch.tally)
    )
    if parents_of(clutch) not in gone:
        return clutch._replace(tally=tally)
    nobody = (Couple(None, None),)
    return clutch._replace(tally=tally, candidates=nobody, stated_candidates=False)


@dataclass(frozen=True, slots=True)
class _Odds:
    """Probability mass for and against, which keeps odds exact near 0 and 1."""

    yes: float
    no: float
    exact: bool

    @property
    def log(self) -> float:
        if self.no <= 0:
            return inf
        return log(self.yes) - log(self.no) if self.yes > 0 else -inf


@dataclass(frozen=True, slots=True)
class _Book:
    """One figure of the part of a population that can bear on it."""

    population: Population
    names: tuple[RecordName, ...]
    animal: str
    locus: str
    keys: frozenset[str]
    limit: float
    spaces: Spaces = field(default_factory=dict)

    @classmethod
    def open(
        cls, population: Population, animal: str, locus: str, keys: Collection[str], limit: float
    ) -> _Book:
        if animal not in population.animal_index:
            refuse_unknown("animal", "animal", animal, population.animal_index)
        if locus not in population.locus_index:
            refuse_unknown("locus", "locus", locus, population.locus_index)
        wanted = _resolved(population, animal, locus, keys)
        bearing = relevant(population, animal, locus)
        names = records(bearing)
        if len(names) * len(bearing.animals) > MANY:
            compile_always()
        return cls(bearing, names, animal, locus, wanted, limit)

    def odds(self, known: Collection[RecordName]) -> _Odds | None:
        """For and against, knowing some of the records; `None` if they cannot all be true."""
        try:
            solved = solve(known_only(self.population, known), limit=self.limit, spaces=self.spaces)
        except ImpossibleEvidence:
            return None
        chances = solved.posterior(self.animal, self.locus)
        yes = sum(p for key, p in chances.items() if key in self.keys)
        no = sum(p for key, p in chances.items() if key not in self.keys)
        return _Odds(yes, no, solved.exact)


def _resolved(
    population: Population, animal: str, locus: str, keys: Collection[str]
) -> frozenset[str]:
    """The reported genotypes that the keys stand for in the sex or sexes of the animal.

    Keys of the other sex are let be, so that `carrier_keys` serves for every animal.
    """
    one = population.loci[population.locus_index[locus]]
    system = population.sex_determination
    sex = population.sexes[population.animal_index[animal]]
    known = accepted_keys(one, system)
    for key in keys:
        if key not in known:
            refuse("keys", f"{shown(key)} is no genotype at {locus}; expected {sorted(known)}")
    covered: set[str] = set()
    for each in SEXES if sex == "unknown" else (sex,):
        for key in keys:
            covered.update(covered_keys(one, system, each).get(key, ()))
    return frozenset(covered)


def _contribution(name: RecordName, now: _Odds, before: _Odds | None) -> Contribution:
    if before is None:
        return Contribution(name, now.yes, None, None, now.exact)
    weight = 0.0 if now.log == before.log else now.log - before.log
    return Contribution(name, now.yes, before.yes, weight, now.exact and before.exact)


def _influence(one: Contribution) -> tuple[float, float]:
    return -one.moved, -abs(one.weight or 0.0)


def _chance(odds: _Odds | None) -> float | None:
    return None if odds is None else odds.yes


def _exact(odds: _Odds | None) -> bool:
    return odds is None or odds.exact


def _by_date(
    population: Population,
    names: tuple[RecordName, ...],
    dated: Sequence[tuple[RecordName, Date | None]],
) -> list[tuple[RecordName, Date | None]]:
    """Records that can matter with their dates, the undated (date `None`) first."""
    known = set(records(population))
    when: dict[RecordName, Date | None] = {}
    for i, (name, date) in enumerate(dated):
        if name not in known:
            refuse_unknown(f"dated[{i}]", "record", str(name), [str(one) for one in known])
        if name in when:
            fault = f"{shown(str(name))} has a date already; expected one date each"
            refuse(f"dated[{i}]", fault)
        when[name] = date
    undated: list[tuple[RecordName, Date | None]] = [
        (name, None) for name in names if when.get(name) is None
    ]
    wanted = set(names)
    later = [(name, date) for name, date in when.items() if date is not None and name in wanted]
    return undated + sorted(later, key=lambda pair: pair[1])
