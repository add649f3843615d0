"""Whether an animal carries a trait or a line: what hatchlings with each mate would tell."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import genetics
from keeper.domain.inference.plans.forecasts import clutch_sizes
from keeper.domain.inference.questions.asking import Asked, Subproblem, Unanswerable, families_of
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.looks import sighting
from keeper.models import Animal, Line, Trait

SETTLED = 0.99
"""A question counts as settled at this chance: that it carries, or that it does not."""
MOST_DRAWN = 40
"""Hatchlings up to which chances are told one by one."""
_LITTLE = 1e-9
# What floats may lose: a chance that is exactly at a bound counts as reached.
_NEAR = 1e-12


@dataclass(frozen=True)
class Suspect:
    """An animal that may carry a trait, or one line of it, and the mates to ask about.

    All mates are recorded as of the other sex.
    """

    animal: Animal
    trait: Trait
    line: Line | None
    mates: tuple[Animal, ...]


@dataclass(frozen=True)
class Trial:
    """What hatchlings of a suspect with one mate would tell; tuples are by number, from 0 to 40.

    Attributes:
        mate: its id.
        prior: chance now that the suspect carries it.
        positive: chance that one hatchling at least is seen to show the trait.
        carrier: the same if it carries it; nothing where it cannot.
        remains: chance that it carries it though none shows; nothing where that cannot be.
        proves: the chance that it carries it once a single hatchling shows it.
        needed, likely: the smallest number, up to 200, that settles the question with a chance of
            99 %, and that does so for 95 %, whichever is true; nothing where none does.
        settled: chance that one clutch settles it at 99 %.
        bits: what one clutch is expected to tell, in bits; 0: nothing.
        conflict: records that cannot all be true, in words; the newest was set aside.
    """

    mate: int
    prior: float
    positive: tuple[float, ...]
    carrier: tuple[float, ...] | None
    remains: tuple[float | None, ...]
    proves: float
    needed: int | None
    likely: int | None
    settled: float
    bits: float
    conflict: tuple[str, ...] = ()

    @property
    def stop(self) -> int | None:
        """After so many clean hatchlings at most 1 % is left, and for good."""
        return _from(one is not None and one <= 1 - SETTLED + _NEAR for one in self.remains)

    @property
    def sure_to_show(self) -> int | None:
        """Among so many hatchlings one at least of a carrier's shows it, with 99 %."""
        return _from(chance >= SETTLED - _NEAR for chance in self.carrier or ())


def trials(suspects: Sequence[Suspect]) -> list[tuple[Trial, ...] | None]:
    """What hatchlings with each of its mates would tell of each suspect, in the order given.

    All suspects of one species are gathered at once, and worked out in one solution where that is
    possible. A clutch is of the species' usual eggs, each of which hatches with its chance. Nothing
    for a suspect of whom it cannot be worked out exactly.
    """
    found: list[tuple[Trial, ...] | None] = [None] * len(suspects)
    apart: dict[int, list[int]] = defaultdict(list)
    for place, one in enumerate(suspects):
        apart[one.animal.species_id].append(place)
    for places in apart.values():
        here = {place: suspects[place] for place in places}
        try:
            families = _families(here.values())
        except Unanswerable:
            continue
        for place, rows in _told(families, here).items():
            found[place] = rows
    return found


def _families(suspects: Iterable[Suspect]) -> Asked:
    every = list(suspects)
    who = {one.pk for each in every for one in (each.animal, *each.mates)}
    return families_of(every[0].animal.species, who, {one.trait.pk for one in every})


def _told(families: Asked, suspects: Mapping[int, Suspect]) -> dict[int, tuple[Trial, ...] | None]:
    """The same for suspects of one species, by what stands for each."""
    found: dict[int, tuple[Trial, ...] | None] = {}
    for places in _by_part(families, suspects).values():
        part = _part(families, suspects[places[0]])
        if part is None:
            # Nobody in these families can carry it.
            found |= dict.fromkeys(places, ())
            continue
        for some in (places, *([place] for place in places)):
            if any(place not in found for place in some):
                found |= _solved(
                    part, families.conflict, {place: suspects[place] for place in some}
                )
    return found


def _by_part(families: Asked, suspects: Mapping[int, Suspect]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = defaultdict(list)
    for place, one in suspects.items():
        found[id(_part(families, one))].append(place)
    return found


def _part(families: Asked, one: Suspect) -> Subproblem | None:
    return next((part for part in families.subproblems if part.decides(one.trait.pk)), None)


def _solved(
    part: Subproblem, conflict: tuple[str, ...], suspects: Mapping[int, Suspect]
) -> dict[int, tuple[Trial, ...] | None]:
    """Suspects in one solution; nothing of several that are too many for one, to be tried alone."""
    questions = [_question(part, one) for one in suspects.values()]
    try:
        mixed = genetics.mixtures(part.solve(), questions)
    except (genetics.BeyondExact, Unanswerable):
        return dict.fromkeys(suspects) if len(suspects) == 1 else {}
    return {
        place: tuple(
            _trial(one, mate.pk, mixture, conflict)
            for mate, mixture in zip(one.mates, rows, strict=True)
        )
        for (place, one), rows in zip(suspects.items(), mixed, strict=True)
    }


def _question(part: Subproblem, one: Suspect) -> "genetics.TestQuestion":
    """Whether it has none of it, which is one genotype a locus however many loci there are."""
    inheritance = part.of.inheritance
    return genetics.TestQuestion(
        animal=part.code(one.animal),
        genotypes=_without(inheritance, one.trait, one.line, part.loci),
        mates=tuple(part.code(mate) for mate in one.mates),
        eggs=(),
        shows=one.trait.name,
        settle=SETTLED,
    )


def _without(
    inheritance: Inheritance, trait: Trait, line: Line | None, loci: Iterable[int]
) -> dict[str, tuple[str, ...]]:
    """The genotypes without a trait's lines, or without one of them, at each of its loci."""
    lines = {one.pk: one.locus_id for one in inheritance.lines_of(trait)}
    wanted = set(lines) if line is None else {line.pk}
    return {
        inheritance.loci[locus].name: tuple(
            key for key, copies in inheritance.keys(locus) if not wanted & set(copies)
        )
        for locus in sorted({lines[pk] for pk in wanted} & set(loci))
    }


def _trial(
    one: Suspect, mate: int, has_none: "genetics.Mixture", conflict: tuple[str, ...]
) -> Trial:
    species = one.animal.species
    clutch = clutch_sizes(species.eggs_usual, float(species.hatch_rate))
    look = sighting(one.trait, [True])
    shown, mistaken = 1 - float(look.false_negative), float(look.false_positive)
    mixture = has_none.other_way().seen(shown, mistaken)
    numbers = range(MOST_DRAWN + 1)
    prior = mixture.prior
    positive = tuple(mixture.positive(n) for n in numbers)
    remains = tuple(mixture.clean(n) for n in numbers)
    # That none shows and it carries it.
    both = [(1 - p) * (left or 0.0) for p, left in zip(positive, remains, strict=True)]
    bits = sum(chance * mixture.bits(n) for n, chance in clutch)
    tells = bits > _LITTLE
    return Trial(
        mate=mate,
        prior=prior,
        positive=positive,
        carrier=tuple(1 - min(1.0, each / prior) for each in both) if prior > 0 else None,
        remains=remains,
        proves=_proves(mixture),
        needed=mixture.needed(SETTLED) if tells else None,
        likely=mixture.needed(0.95) if tells else None,
        settled=min(1.0, sum(chance * mixture.settled(n, SETTLED) for n, chance in clutch)),
        bits=bits if tells else 0.0,
        conflict=conflict,
    )


def _proves(mixture: "genetics.Mixture") -> float:
    """The chance that it carries it once a single hatchling shows it."""
    one = mixture.positive(1)
    if one <= 0:
        return 0.0
    return max(0.0, min(1.0, (mixture.prior - (1 - one) * (mixture.clean(1) or 0.0)) / one))


def _from(reached: Iterable[bool]) -> int | None:
    """The first number from which on a bound is reached all along."""
    found = None
    for n, one in enumerate(reached):
        if not one:
            found = None
        elif found is None:
            found = n
    return found
