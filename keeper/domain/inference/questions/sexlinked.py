"""On which sex chromosome a gene sits in an animal, and what its sons and daughters get.

The engine's genotype keys say it: `a|b` has a on the X (Z) and b on the Y (W), `a/Y` has the one
copy there is. Sons and daughters are hatchlings with a mate that has none of it, so crossovers,
survival and everything unsure about the animal are averaged exactly.
"""

from dataclasses import dataclass
from typing import Literal

import genetics
from keeper.domain.inference.questions.asking import (
    STRANGER,
    YOUNG,
    Asked,
    Subproblem,
    Unanswerable,
    around,
)
from keeper.domain.inference.reading.inheritance import codes_of
from keeper.domain.inference.standings.copies import unsure
from keeper.models import Animal, Chromosome, Line, Sex, Shown

_SON, _DAUGHTER = f"{YOUNG}, a son", f"{YOUNG}, a daughter"
_YOUNG: tuple[tuple[str, genetics.Sex], ...] = ((_SON, "male"), (_DAUGHTER, "female"))
_OPPOSITE: dict[Sex, Literal["female", "male"]] = {Sex.FEMALE: "male", Sex.MALE: "female"}


@dataclass(frozen=True)
class Share:
    """What part of the sons, or of the daughters.

    Attributes:
        carry: has at least one copy.
        show: is seen to show the trait; None where that does not rest on this locus alone.
    """

    carry: float
    show: float | None


@dataclass(frozen=True)
class Seat:
    """Where a line's copies sit in an animal.

    Attributes:
        line: its id.
        on_both: whether the locus is on both sex chromosomes, with crossovers at `crossover`.
        heterogametic: whether the animal has two different sex chromosomes.
        first, second: chance of a copy on the X (Z) alone, on the Y (W) alone; of an animal with
            two alike, `first` is the chance of one copy and `second` is 0.
        two: chance of a copy on each.
        none: chance of no copy.
        sons, daughters: of a mate without a copy.
        exact: whether the figures are exact.
    """

    line: int
    on_both: bool
    crossover: float
    heterogametic: bool
    first: float
    second: float
    two: float
    none: float
    sons: Share
    daughters: Share
    exact: bool = True


@dataclass(frozen=True)
class Seats:
    """Every line on the sex chromosomes that an animal may carry.

    Attributes:
        seats: by line, in the order of the lines' ids.
        conflict: records that cannot all be true, in words; the newest is left out.
    """

    seats: tuple[Seat, ...]
    conflict: tuple[str, ...] = ()


def sex_linked(animal: Animal) -> Seats:
    """Return where an animal's lines on the sex chromosomes sit.

    Raises:
        Unanswerable: its sex is not known, or it is too large to work out.
    """
    if animal.sex == Sex.UNKNOWN:
        raise Unanswerable(f"The sex of {animal} is not known. Record it first.")
    asked = around(animal.species, [animal])
    found = [
        seat for one in asked.subproblems if one.decides_sex for seat in _seats(asked, one, animal)
    ]
    return Seats(tuple(sorted(found, key=lambda seat: seat.line)), asked.conflict)


def _seats(asked: Asked, part: Subproblem, animal: Animal) -> list[Seat]:
    inheritance = asked.of.inheritance
    lines = [
        line
        for line in inheritance.lines.values()
        if line.locus_id in part.loci
        and inheritance.loci[line.locus_id].chromosome != Chromosome.AUTOSOME
    ]
    own = part.code(animal)
    solved = _with_young(part, animal).solve()
    return [seat for line in lines if (seat := _seat(asked, solved, own, animal, line)) is not None]


def _with_young(part: Subproblem, animal: Animal) -> Subproblem:
    """The same with a son and a daughter of a mate that certainly has nothing of it."""
    inheritance, own = part.of.inheritance, part.code(animal)
    sex = _OPPOSITE[Sex(animal.sex)]
    normal = {inheritance.loci[pk].name: {inheritance.wild_keys(pk, sex)[0]: 1} for pk in part.loci}
    mate = genetics.Animal(id=STRANGER, sex=sex, founder=normal)
    dam, sire = (own, STRANGER) if animal.sex == Sex.FEMALE else (STRANGER, own)
    young = [genetics.Animal(id=code, sex=of, dam=dam, sire=sire) for code, of in _YOUNG]
    return part.with_records(animals=[mate, *young])


def _seat(
    asked: Asked, solved: "genetics.Solved", own: str, animal: Animal, line: Line
) -> Seat | None:
    inheritance = asked.of.inheritance
    locus = inheritance.loci[line.locus_id]
    heterogametic = animal.sex == inheritance.heterogametic
    chances = {"first": 0.0, "second": 0.0, "two": 0.0, "none": 0.0}
    for key, p in solved.posterior(own, locus.name).items():
        chances[_place(key, line.code, heterogametic)] += p
    if chances["none"] >= 1 or all(chances[one] <= 0 for one in ("first", "second", "two")):
        return None
    possible = [one for one, p in chances.items() if p > 0]
    tidy = {
        name: 1.0 if possible == [name] else unsure(p) if p > 0 else 0.0
        for name, p in chances.items()
    }
    return Seat(
        line=line.pk,
        on_both=locus.chromosome == Chromosome.BOTH,
        crossover=float(locus.recombination),
        heterogametic=heterogametic,
        **tidy,
        sons=_share(asked, solved, _SON, line),
        daughters=_share(asked, solved, _DAUGHTER, line),
        exact=solved.exact,
    )


def _place(key: str, code: str, heterogametic: bool) -> str:
    """Which of the two places of a genotype key hold the line."""
    here = [one == code for one in codes_of(key)[:2]]
    if all(here):
        return "two"
    if not any(here):
        return "none"
    return "first" if here[0] or not heterogametic else "second"


def _share(asked: Asked, solved: "genetics.Solved", young: str, line: Line) -> Share:
    inheritance = asked.of.inheritance
    locus = inheritance.loci[line.locus_id]
    trait = inheritance.traits[line.trait_id]
    mark = inheritance.single_mark(line.locus_id)
    carry = show = lacks = misses = 0.0
    for key, p in solved.posterior(young, locus.name).items():
        copies = [one for one in codes_of(key) if one != mark]
        count = copies.count(line.code)
        carry, lacks = (carry + p, lacks) if count else (carry, lacks + p)
        seen = _expresses(Shown(trait.shown), count, len(copies))
        show, misses = (show + p, misses) if seen else (show, misses + p)
    plain = inheritance.loci_of(trait) == {line.locus_id} and trait.shown != Shown.RULES
    seen_share = _certain(show, misses) * float(trait.penetrance)
    return Share(_certain(carry, lacks), seen_share if plain else None)


def _expresses(shown: Shown, count: int, copies: int) -> bool:
    """Whether so many copies of the line among those at the locus show its trait."""
    if shown == Shown.DOMINANT:
        return count > 0
    if shown == Shown.SINGLE:
        return count == 1 and copies == 2
    return count == copies


def _certain(chance: float, other: float) -> float:
    """A sum of exact zeros is zero, and what nothing else is beside is certain."""
    return 0.0 if chance <= 0 else 1.0 if other <= 0 else unsure(chance)
