"""Of which gene a visual is, where one look has several, and the mating that would tell.

The copies of such a visual are read in several ways: two at this locus, or at that one, or at
both. A mate that carries the lines of one locus alone gives visuals by what the animal has there,
so each mate puts one question: are there two copies at this locus?
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import comb

import genetics
from keeper.domain.inference.questions.asking import Subproblem, Unanswerable, families_of
from keeper.domain.inference.questions.kinds import mean
from keeper.domain.inference.reading.inheritance import codes_of
from keeper.domain.inference.standings.copies import unsure
from keeper.models import Animal, Sex, Shown, Standing, Status, Trait

# How sure the keeper is told right, whichever reading is true: at least this, never rounded up.
CONFIDENCE = 0.95
# No number of hatchlings above this is offered, and so many mates for each gene.
_MOST_HATCHLINGS, _MATES = 60, 3
_READING = "\nreading"
_OPPOSITE = {Sex.FEMALE: Sex.MALE, Sex.MALE: Sex.FEMALE}
# Weight of what the couple may be, and the chance that a hatchling of theirs is seen to show it.
_Kinds = list[tuple[float, float]]


@dataclass(frozen=True)
class Reading:
    """One way in which the copies of a visual may lie.

    Attributes:
        loci: ids of the loci with two copies of the look's lines; none has: empty.
        chance: how likely it is.
    """

    loci: tuple[int, ...]
    chance: float


@dataclass(frozen=True)
class TellingMate:
    """A mate and what its hatchlings would tell.

    Attributes:
        mate: id of the animal.
        locus: id of the locus of which it tells whether two copies are there.
        copies: how many copies the mate certainly has there: 2 or 1.
        shows: chance that a hatchling is seen to show the look under each of the readings.
        hatchlings: how many it takes so that, whichever is true, the keeper is told right with a
            chance of at least 0.95; None if no number up to 60 does.
        at_least: so many of them or more show it: there are two copies at the locus.
    """

    mate: int
    locus: int
    copies: int
    shows: tuple[float, ...]
    hatchlings: int | None
    at_least: int | None


@dataclass(frozen=True)
class WhichGene:
    """What a visual may be and how it would be told.

    Attributes:
        readings: the likeliest first; a single one is certain.
        lines: locus → ids of the look's lines that the animal may have there.
        mates: those who tell soonest first; none where the animal's sex is not known.
        conflict: records that cannot all be true, in words; the newest is left out.
    """

    readings: tuple[Reading, ...]
    lines: dict[int, tuple[int, ...]]
    mates: tuple[TellingMate, ...]
    conflict: tuple[str, ...] = ()


def which_gene(animal: Animal, trait: Trait) -> WhichGene:
    """Return how the copies of a recessive look may lie in an animal, and who would tell.

    Raises:
        Unanswerable: the look is not recessive or has one locus, the animal was withdrawn, or it is
            too large to work out.
    """
    if animal.is_withdrawn:
        raise Unanswerable(
            f"The record of {animal} is withdrawn: it says nothing of its genes. Restore it first."
        )
    mates = _mates(animal, trait)
    asked = families_of(animal.species, {animal.pk, *(mate.pk for mate, _, _ in mates)}, [trait.pk])
    inheritance = asked.of.inheritance
    loci = sorted({line.locus_id for line in inheritance.lines_of(trait)})
    part = next((one for one in asked.subproblems if one.loci >= set(loci)), None)
    if trait.shown != Shown.RECESSIVE or len(loci) < 2 or part is None:
        raise Unanswerable(
            f"There is only one way in which {animal} can have {trait}: nothing is left to tell."
        )
    one = _Visual(part, animal, trait, loci)
    readings = one.readings()
    found = one.told_by(mates, readings) if len(readings) > 1 else []
    found.sort(key=lambda row: (row.hatchlings is None, row.hatchlings, row.mate))
    return WhichGene(tuple(readings), one.lines(), tuple(found), asked.conflict)


def _mates(animal: Animal, trait: Trait) -> list[tuple[Animal, int, int]]:
    """Animals of the collection that certainly carry lines of one locus and of no other.

    Each with the locus and its copies there: of each locus those with two first.
    """
    sex = _OPPOSITE.get(Sex(animal.sex))
    if sex is None:
        return []
    rows = Standing.objects.filter(
        trait=trait, line__isnull=False, none=0, dispute=None, animal__species=animal.species_id,
        animal__sex=sex, animal__withdrawn_at=None,
        animal__status__in=(Status.KEPT, Status.OFFERED, Status.LENT),
    )  # fmt: skip
    unmixed = Standing.objects.filter(trait=trait, line=None, mixed=0, dispute=None)
    rows = rows.filter(animal__in=unmixed.values("animal"))
    copies: dict[tuple[Animal, int], int] = defaultdict(int)
    for row in rows.select_related("animal", "line").order_by("animal__code"):
        if row.line is not None:
            copies[row.animal, row.line.locus_id] += 2 if row.one == 0 else 1
    by_locus: dict[int, list[tuple[Animal, int, int]]] = defaultdict(list)
    for (mate, locus), count in copies.items():
        by_locus[locus].append((mate, locus, count))
    return [
        mate
        for locus in sorted(by_locus)
        for mate in sorted(by_locus[locus], key=lambda row: -row[2])[:_MATES]
    ]


@dataclass
class _Visual:
    """A visual in the part of the book that bears on it."""

    part: Subproblem
    animal: Animal
    trait: Trait
    loci: list[int]

    @property
    def names(self) -> dict[int, str]:
        return {pk: self.part.of.inheritance.loci[pk].name for pk in self.loci}

    def _keys(self, locus: int, *, two: bool) -> list[str]:
        """Genotype keys at a locus with, or without, two copies of the look's lines."""
        lines = self.part.of.inheritance.at_locus[locus]
        own = {line.code for line in lines if line.trait_id == self.trait.pk}
        keys = [key for key, _ in self.part.of.inheritance.keys(locus)]
        return [key for key in keys if all(code in own for code in codes_of(key)) == two]

    def _genotypes(self, doubled: Iterable[int]) -> dict[str, tuple[str, ...]]:
        there = set(doubled)
        return {
            name: tuple(self._keys(locus, two=locus in there)) for locus, name in self.names.items()
        }

    def lines(self) -> dict[int, tuple[int, ...]]:
        """The look's lines that the animal may have, by locus."""
        rows = Standing.objects.filter(animal=self.animal, trait=self.trait, none__lt=1)
        found: dict[int, list[int]] = defaultdict(list)
        for locus, line in (
            rows.exclude(line=None).order_by("line__code").values_list("line__locus_id", "line_id")
        ):
            found[locus].append(line)
        return {locus: tuple(lines) for locus, lines in found.items()}

    def readings(self) -> list[Reading]:
        """Every way that has a chance, the likeliest first."""
        code = self.part.code(self.animal)
        solved = self.part.solve([tuple((code, name) for name in self.names.values())])
        found = []
        for choice in product((True, False), repeat=len(self.loci)):
            doubled = tuple(pk for pk, two in zip(self.loci, choice, strict=True) if two)
            chance = float(genetics.joint(solved, code, self._genotypes(doubled)))
            if chance > 0:
                found.append(Reading(doubled, chance))
        if len(found) == 1:
            return [replace(found[0], chance=1.0)]
        return sorted(
            (replace(one, chance=unsure(one.chance)) for one in found),
            key=lambda one: (-round(one.chance, 12), one.loci),
        )

    def told_by(
        self, mates: Sequence[tuple[Animal, int, int]], readings: Sequence[Reading]
    ) -> list[TellingMate]:
        """What the hatchlings with each mate would tell."""
        under = [self._kinds(reading, [mate for mate, _, _ in mates]) for reading in readings]
        return [
            self._tells(readings, [kinds[place] for kinds in under], *mate)
            for place, mate in enumerate(mates)
        ]

    def _tells(
        self,
        readings: Sequence[Reading],
        kinds: list[_Kinds],
        mate: Animal,
        locus: int,
        copies: int,
    ) -> TellingMate:
        sides: dict[bool, _Kinds] = {True: [], False: []}
        for reading, rows in zip(readings, kinds, strict=True):
            side = sides[locus in reading.loci]
            side += [(reading.chance * weight, p) for weight, p in rows]
        told = _enough(_whole(sides[True]), _whole(sides[False]))
        return TellingMate(
            mate=mate.pk,
            locus=locus,
            copies=copies,
            shows=tuple(_average(rows) for rows in kinds),
            hatchlings=told[0] if told else None,
            at_least=told[1] if told else None,
        )

    def _kinds(self, reading: Reading, mates: Sequence[Animal]) -> list[_Kinds]:
        """What the couple with each mate may be if the reading is true."""
        held = self._held(reading)
        questions = [self._question(mate) for mate in mates]
        solved = held.solve([genetics.couple_query(held.book.population, one) for one in questions])
        seen, mistaken = float(self.trait.penetrance), float(self.trait.mistaken)
        return [
            [(weight, p * seen + (1 - p) * mistaken) for weight, p in _whole(rows)]
            for rows in (genetics.couple_chances(solved, one) for one in questions)
        ]

    def _question(self, mate: Animal) -> genetics.OffspringQuestion:
        own, other = self.part.code(self.animal), self.part.code(mate)
        dam, sire = (own, other) if self.animal.sex == Sex.FEMALE else (other, own)
        goal = genetics.Goal(shows={self.trait.name: True})
        return genetics.OffspringQuestion(dam=dam, sire=sire, goal=goal)

    def _held(self, reading: Reading) -> Subproblem:
        """The same part of the book where the reading was seen to be true."""
        population = self.part.book.population
        place = population.animal_index[self.part.code(self.animal)]
        animals = list(population.animals)
        record = animals[place]
        shows = {**record.shows, _READING: genetics.Sighting(seen=True)}
        animals[place] = record._replace(shows=shows)
        question = genetics.Trait(id=_READING, shown_by=(self._genotypes(reading.loci),))
        population = replace(
            population, animals=tuple(animals), traits=(*population.traits, question)
        )
        return replace(self.part, book=replace(self.part.book, population=population))


def _whole(rows: _Kinds) -> _Kinds:
    whole = sum(weight for weight, _ in rows)
    return [(weight / whole, p) for weight, p in rows] if whole else []


def _average(rows: _Kinds) -> float:
    import numpy as np

    return mean(np.array([weight for weight, _ in rows]), np.array([p for _, p in rows]))


def _enough(yes: _Kinds, no: _Kinds) -> tuple[int, int] | None:
    """The least number of hatchlings that tells, and how many of them must show it for a yes.

    Either way the chance of being told right is then at least `CONFIDENCE`. Nothing can be told
    where one of the two is impossible anyway.
    """
    if not yes or not no:
        return None
    for n in range(1, _MOST_HATCHLINGS + 1):
        if_so, if_not = _counts(yes, n), _counts(no, n)
        for least in range(1, n + 1):
            if sum(if_so[least:]) >= CONFIDENCE and sum(if_not[:least]) >= CONFIDENCE:
                return n, least
    return None


def _counts(rows: _Kinds, n: int) -> list[float]:
    """Chance that 0, 1 … n of n hatchlings show it."""
    return [
        sum(weight * comb(n, k) * p**k * (1 - p) ** (n - k) for weight, p in rows)
        for k in range(n + 1)
    ]
