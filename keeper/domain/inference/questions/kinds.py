"""What a pair's young can look like, over subproblems of the genome that are independent.

In each subproblem the parents are one of several kinds together, and each kind gives looks with
fixed chances. The chance of at least one in n averages over the kinds of all subproblems; it is not
worked out from averaged chances.
"""

from collections import defaultdict
from collections.abc import Sequence
from itertools import product
from math import prod

import genetics
from keeper.domain.inference.questions.asking import Unanswerable
from keeper.domain.inference.reading.asked_traits import only_asked
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.results import Look
from keeper.domain.inference.standings.copies import unsure

# Weight of a kind of couple, and the chances of the looks that it gives.
Kinds = list[tuple[float, dict[tuple[str, ...], float]]]

# Kinds of couples over all subproblems together above which nothing is listed.
_MOST = 200_000


def kinds_of(
    inheritance: Inheritance, solved: "genetics.Solved", question: genetics.OffspringQuestion
) -> Kinds:
    """The kinds that a couple may be in one solved subproblem; weights sum to 1.

    A trait of incomplete penetrance is seen on so many of those that have the genes for it.
    """
    penetrance = {
        trait.name: float(trait.penetrance)
        for trait in inheritance.traits.values()
        if trait.penetrance < 1
    }
    found: dict[tuple[tuple[tuple[str, ...], float], ...], float] = defaultdict(float)
    for world, share in zip(solved.worlds, solved.chance, strict=True):
        for weight, by_look, _ in genetics.couple_kinds(solved, world, question):
            seen: dict[tuple[str, ...], float] = defaultdict(float)
            for look, p in by_look.items():
                # What a laboratory would find in a hatchling is not seen.
                visible = tuple(name for name in look if not only_asked(name))
                for part, share_seen in _penetrant(visible, penetrance):
                    seen[part] += p * share_seen
            looks = tuple(sorted((look, min(p, 1.0)) for look, p in seen.items() if p > 0))
            found[looks] += share * weight
    whole = sum(found.values())
    return [(weight / whole, dict(looks)) for looks, weight in found.items()]


def _penetrant(
    look: tuple[str, ...], penetrance: dict[str, float]
) -> list[tuple[tuple[str, ...], float]]:
    """What is seen of a look, each of its traits or not, with the chance of that."""
    found: list[tuple[tuple[str, ...], float]] = [((), 1.0)]
    for name in look:
        chance = penetrance.get(name, 1.0)
        hidden = [(part, p * (1 - chance)) for part, p in found if chance < 1]
        found = [((*part, name), p * chance) for part, p in found if chance > 0] + hidden
    return found


def looks_of(
    inheritance: Inheritance, subproblems: list[Kinds], eggs: Sequence[int]
) -> tuple[Look, ...]:
    """Every look over all subproblems, most likely first.

    Raises:
        Unanswerable: the couple may be too many kinds.
    """
    import numpy as np

    weights = together([np.array([weight for weight, _ in kinds]) for kinds in subproblems])
    by_name = {trait.name: pk for pk, trait in inheritance.traits.items()}
    found = []
    for choice in product(*(sorted({k for _, looks in one for k in looks}) for one in subproblems)):
        chance = together(
            [
                np.array([looks.get(look, 0.0) for _, looks in kinds])
                for kinds, look in zip(subproblems, choice, strict=True)
            ]
        )
        each = mean(weights, chance)
        if each > 0:
            names = sorted(name for look in choice for name in look)
            least = at_least_one(weights, chance, eggs)
            found.append(Look(tuple(by_name[name] for name in names), each, least))
    return tuple(sorted(found, key=lambda one: (-round(one.chance, 12), one.traits)))


def together(vectors: Sequence["genetics.Floats"]) -> "genetics.Floats":
    """The products of one entry of each vector, for every choice of entries.

    Raises:
        Unanswerable: there are too many.
    """
    import numpy as np

    if prod(len(vector) for vector in vectors) > _MOST:
        raise Unanswerable(
            "These two may differ in too many genes at once to list everything. Prove some of "
            "them out first, or ask for fewer."
        )
    found = np.ones(1)
    for vector in vectors:
        found = np.multiply.outer(found, vector).ravel()
    return found


def at_least_one(
    weights: "genetics.Floats", chance: "genetics.Floats", eggs: Sequence[int]
) -> dict[int, float]:
    """The average of 1 − (1 − p)ⁿ for each n of eggs.

    Without loss where p is small; certain only where p is.
    """
    import numpy as np

    if (chance == 1).all():
        return {n: 1.0 if n else 0.0 for n in eggs}
    with np.errstate(divide="ignore"):
        missed = np.log1p(-chance)
    return {n: unsure(float(weights @ -np.expm1(n * missed))) if n else 0.0 for n in eggs}


def mean(weights: "genetics.Floats", values: "genetics.Floats") -> float:
    """The average; exactly 1 where every value is and nowhere else, whatever rounding does."""
    return 1.0 if (values == 1).all() else unsure(float(weights @ values))
