"""What a clutch with each of several mates would tell of what an animal may carry.

Asked of recessive looks that are not mistaken for others: given that the animal carries such a copy
at a locus, each hatchling shows the look with a chance that the couple decides, over all that it
may be; given that it does not, none may, or a visual would prove nothing and nothing is answered.
Loci where lines of several looks sit are left out: what a copy there shows depends on the other.
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
        lines: ids of its lines at the locus that is asked about.
        prior: chance that the animal carries one of them.
        proven: chance that a hatchling shows the look, which proves the animal.
        left: chance that it carries it all the same where none of them shows it.
        for_95: hatchlings among which a carrier shows itself with 95 %; None: no number does.
        settled: chance that the clutch proves it, or leaves no more than `CLEARED`.
    """

    trait: int
    lines: tuple[int, ...]
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
    solved = one.solve()
    for trait, locus in _asked_about(one):
        keys = _bearing(one, trait, locus)
        prior = _having(one, solved, suspect, locus, keys)
        if not CLEARED < prior < 1:
            continue
        places = [
            place
            for place, couple in enumerate(couples)
            if _has_any(one, solved, next(code for code in couple if code != suspect), trait)
        ]
        told = _told(one, suspect, (trait, locus), [couples[place] for place in places])
        for place, kinds in zip(places, told, strict=True):
            if kinds:
                proof = _proof(prior, kinds, hatchlings)
                lines = tuple(a.pk for a in one.of.inheritance.at_locus[locus])
                yield place, replace(proof, trait=trait.pk, lines=lines)


def _asked_about(one: Subproblem) -> Iterator[tuple[Trait, int]]:
    """Recessive looks and their loci here, without loci of several looks."""
    inheritance = one.of.inheritance
    for locus in sorted(one.loci):
        of_traits = {line.trait_id for line in inheritance.at_locus[locus]}
        if len(of_traits) != 1:
            continue
        trait = inheritance.traits[of_traits.pop()]
        if trait.shown == Shown.RECESSIVE and not trait.mistaken:
            yield trait, locus


def _bearing(one: Subproblem, trait: Trait, locus: int) -> tuple[str, ...]:
    lines = {line.code for line in one.of.inheritance.lines_of(trait)}
    return tuple(
        key for key, _ in one.of.inheritance.keys(locus) if lines.intersection(codes_of(key))
    )


def _having(
    one: Subproblem, solved: "genetics.Solved", code: str, locus: int, keys: Sequence[str]
) -> float:
    """The chance of one of the keys; exactly 1 only where nothing else is possible."""
    chances = solved.posterior(code, one.of.inheritance.loci[locus].name)
    having = sum(p for key, p in chances.items() if key.replace("|", "/") in keys)
    other = any(p > 0 and key.replace("|", "/") not in keys for key, p in chances.items())
    return unsure(having) if other else 1.0


def _has_any(one: Subproblem, solved: "genetics.Solved", code: str, trait: Trait) -> bool:
    return any(
        _having(one, solved, code, locus, _bearing(one, trait, locus)) > 0
        for locus in one.of.inheritance.loci_of(trait)
    )


def _told(
    one: Subproblem, suspect: str, what: tuple[Trait, int], couples: Sequence[tuple[str, str]]
) -> list[_Kinds]:
    """What each couple may be if the suspect carries it; nothing where a visual proves nothing."""
    trait, _ = what
    goal = genetics.Goal(shows={trait.name: True})
    questions = [genetics.OffspringQuestion(dam=dam, sire=sire, goal=goal) for dam, sire in couples]
    if not questions:
        return []
    try:
        yes = _kinds(_held(one, suspect, what, seen=True), questions)
        no = _kinds(_held(one, suspect, what, seen=False), questions)
    except (Unanswerable, genetics.BeyondExact):
        return [[] for _ in questions]
    seen = float(trait.penetrance)
    return [
        [(weight, p * seen) for weight, p in carrying]
        if any(p > 0 for _, p in carrying) and not any(w > 0 and p > 0 for w, p in clear)
        else []
        for carrying, clear in zip(yes, no, strict=True)
    ]


def _kinds(held: Subproblem, questions: Sequence[genetics.OffspringQuestion]) -> list[_Kinds]:
    queries = [genetics.couple_query(held.book.population, question) for question in questions]
    solved = held.solve(queries, exact_only=True)
    return [genetics.couple_chances(solved, question) for question in questions]


def _held(one: Subproblem, suspect: str, what: tuple[Trait, int], *, seen: bool) -> Subproblem:
    """The same part of the book where it is known whether the suspect carries it."""
    trait, locus = what
    name = one.of.inheritance.loci[locus].name
    population = one.book.population
    animals = list(population.animals)
    place = population.animal_index[suspect]
    shows = {**animals[place].shows, _CARRYING: genetics.Sighting(seen=seen)}
    animals[place] = animals[place]._replace(shows=shows)
    question = genetics.Trait(id=_CARRYING, shown_by=({name: _bearing(one, trait, locus)},))
    population = replace(population, animals=tuple(animals), traits=(*population.traits, question))
    return replace(one, book=replace(one.book, population=population))


def _proof(prior: float, kinds: _Kinds, hatchlings: int) -> Proof:
    mating = genetics.against_kinds(prior, kinds)
    (report,) = genetics.rank_mates(
        {"": mating}, genetics.FixedClutch(hatchlings), confidence=SURE, threshold=CLEARED
    )
    return Proof(
        trait=0,
        lines=(),
        prior=prior,
        proven=unsure(float(report.settled.proven)),
        left=float(mating.posterior(hatchlings)),
        for_95=report.to_detect,
        settled=unsure(float(report.settled.chance)),
    )
