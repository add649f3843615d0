"""What a clutch with each of several mates would tell of what an animal may carry.

Asked of recessive looks that are not mistaken for others: given that the animal carries a copy of
one, each hatchling shows the look with a chance that the couple decides, over all that it may be;
given that it carries none, no hatchling can. Of several lines or genes of a look any counts, so
what is left where none shows it holds those too that the mate would not bring out.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import genetics
from keeper.domain.inference.questions.asking import Asked, Party, Subproblem, Unanswerable
from keeper.domain.inference.reading.inheritance import codes_of
from keeper.domain.inference.standings.copies import unsure
from keeper.models import Shown, Trait

# An animal is taken for clear where no more than this is left; a carrier shows itself with this
# chance. Common practice, no source.
CLEARED, SURE = 0.05, 0.95
_CARRYING = "\ncarrying"

# What a couple may be: weight, and the chance that a hatchling of theirs is seen to show the look.
_Kinds = list[tuple[float, float]]


@dataclass(frozen=True)
class Proof:
    """What a clutch of so many hatchlings would tell of one thing that an animal may carry.

    Attributes:
        trait: id of the look.
        prior: chance that the animal carries one of them.
        proven: chance that a hatchling shows the look, which proves the animal.
        left: chance that it carries it all the same where none of them shows it.
        for_95: hatchlings among which a carrier shows itself with 95 %; None: no number does.
        settled: chance that the clutch proves it, or leaves no more than `CLEARED`.
    """

    trait: int
    prior: float
    proven: float
    left: float
    for_95: int | None
    settled: float


def proofs(
    asked: Asked, pairs: Sequence[tuple[Party, Party]], suspect: Party, hatchlings: int
) -> list[tuple[Proof, ...]]:
    """Return for each pair, of which one is the suspect, what a clutch would tell of it.

    The likeliest to be settled first; what the pair cannot tell is left out.
    """
    found: list[list[Proof]] = [[] for _ in pairs]
    for one in asked.subproblems:
        couples = [(one.code(dam), one.code(sire)) for dam, sire in pairs]
        for place, proof in _in_subproblem(one, one.code(suspect), couples, hatchlings):
            found[place].append(proof)
    return [tuple(sorted(told, key=lambda one: (-one.settled, one.trait))) for told in found]


def _in_subproblem(
    one: Subproblem, suspect: str, couples: Sequence[tuple[str, str]], hatchlings: int
) -> Iterator[tuple[int, Proof]]:
    mates = [next(code for code in couple if code != suspect) for couple in couples]
    for trait in _asked_about(one):
        without = _clear(one, suspect, trait)
        if not 0 < without < 1 - CLEARED:
            continue
        places = [place for place, mate in enumerate(mates) if _loci_with(one, mate, trait)]
        told = _told(one, suspect, trait, [couples[place] for place in places])
        for place, kinds in zip(places, told, strict=True):
            if any(p > 0 for _, p in kinds):
                yield place, _proof(trait.pk, unsure(1 - without), kinds, hatchlings)


def _asked_about(one: Subproblem) -> Iterator[Trait]:
    """The recessive looks that are decided here and that nothing else is taken for."""
    inheritance = one.of.inheritance
    for pk in sorted({pk for group in one.book.groups for pk in group.traits}):
        trait = inheritance.traits[pk]
        if trait.shown == Shown.RECESSIVE and not trait.mistaken:
            yield trait


def _without(one: Subproblem, trait: Trait) -> dict[str, list[str]]:
    """By locus the genotype keys without any copy of a look's lines."""
    return {name: without for name, (_, without) in _keys(one, trait).items()}


def _keys(one: Subproblem, trait: Trait) -> dict[str, tuple[list[str], list[str]]]:
    """By locus the genotype keys with a copy of a look's lines, and those without."""
    inheritance = one.of.inheritance
    codes = {line.code for line in inheritance.lines_of(trait)}
    found: dict[str, tuple[list[str], list[str]]] = {}
    for pk in sorted(inheritance.loci_of(trait)):
        own = {line.code for line in inheritance.at_locus[pk] if line.trait_id == trait.pk} & codes
        keys = [key for key, _ in inheritance.keys(pk)]
        having = [key for key in keys if own.intersection(codes_of(key))]
        found[inheritance.loci[pk].name] = having, [key for key in keys if key not in having]
    return found


def _loci_with(one: Subproblem, code: str, trait: Trait) -> list[str]:
    """The loci at which an animal may carry a copy of a look at all."""
    return [
        name
        for name, without in _without(one, trait).items()
        if any(
            p > 0 and key.replace("|", "/") not in without
            for key, p in one.solved.posterior(code, name).items()
        )
    ]


def _clear(one: Subproblem, code: str, trait: Trait) -> float:
    """The chance that an animal carries no copy of a look."""
    loci, without = _loci_with(one, code, trait), _without(one, trait)
    if not loci:
        return 1.0
    if len(loci) == 1:
        chances = one.solved.posterior(code, loci[0])
        return sum(p for key, p in chances.items() if key.replace("|", "/") in without[loci[0]])
    solved = one.solve([tuple((code, name) for name in loci)])
    return genetics.joint(solved, code, {name: without[name] for name in loci})


def _told(
    one: Subproblem, suspect: str, trait: Trait, couples: Sequence[tuple[str, str]]
) -> list[_Kinds]:
    """What each couple may be if the suspect carries a look; nothing where that is too large."""
    goal = genetics.Goal(shows={trait.name: True})
    questions = [genetics.OffspringQuestion(dam=dam, sire=sire, goal=goal) for dam, sire in couples]
    if not questions:
        return []
    held = _carrying(one, suspect, trait)
    queries = [genetics.goal_query(held.book.population, question) for question in questions]
    seen = float(trait.penetrance)
    try:
        solved = held.solve(queries, exact_only=True)
        chances = [genetics.goal_kinds(solved, question) for question in questions]
    except (Unanswerable, genetics.BeyondExact):
        return [[] for _ in questions]
    return [[(weight, p * seen) for weight, p in kinds] for kinds in chances]


def _carrying(one: Subproblem, suspect: str, trait: Trait) -> Subproblem:
    """The same part of the book where the suspect is known to carry a look."""
    population = one.book.population
    animals = list(population.animals)
    place = population.animal_index[suspect]
    shows = {**animals[place].shows, _CARRYING: genetics.Sighting(seen=True)}
    animals[place] = animals[place]._replace(shows=shows)
    question = genetics.Trait(
        id=_CARRYING,
        shown_by=tuple({name: tuple(keys)} for name, (keys, _) in _keys(one, trait).items()),
    )
    population = replace(population, animals=tuple(animals), traits=(*population.traits, question))
    return replace(one, book=replace(one.book, population=population))


def _proof(trait: int, prior: float, kinds: _Kinds, hatchlings: int) -> Proof:
    mating = genetics.against_kinds(prior, kinds)
    (report,) = genetics.rank_mates(
        {"": mating}, genetics.FixedClutch(hatchlings), confidence=SURE, threshold=CLEARED
    )
    return Proof(
        trait=trait,
        prior=prior,
        proven=unsure(float(report.settled.proven)),
        left=float(mating.posterior(hatchlings)),
        for_95=report.to_detect,
        settled=unsure(float(report.settled.chance)),
    )
