"""What a pair's young can look like, over subproblems of the genome that are independent.

In each subproblem the parents are one of several kinds together, and each kind gives looks with
fixed chances. The chance of at least one in n averages over the kinds of all subproblems; it is not
worked out from averaged chances.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import Literal

import genetics
from keeper.domain.inference.questions.asking import Unanswerable
from keeper.domain.inference.reading.asked_traits import only_asked
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.results import Look
from keeper.domain.inference.standings.copies import unsure

# Weight of a kind of couple, and the chances of the looks that it gives.
Kinds = list[tuple[float, dict[tuple[str, ...], float]]]

# Of a hatchling's sex and look, the chances by look.
Looks = dict[tuple[str, ...], float]
BornSex = Literal["female", "male"]
# Weight of a kind of couple, and the chances of sex and look together.
Sexed = list[tuple[float, dict[tuple["genetics.Sex", tuple[str, ...]], float]]]

_OTHER: tuple[tuple[BornSex, BornSex], ...] = (("female", "male"), ("male", "female"))

# Shares of sons and of daughters that differ by less are the same.
_SAME = 1e-9

# Kinds of couples over all subproblems together above which nothing is listed.
_MOST = 200_000
# Of so many chances something is worked out in one go.
_AT_ONCE = 1_000_000


def sexed_of(solved: "genetics.Solved", question: genetics.OffspringQuestion) -> Sexed:
    """The kinds that a couple may be in one solved subproblem: what sons and daughters look like.

    Raises:
        genetics.BeyondExact: they are too many.
    """
    return [
        (share * weight, by_sex)
        for world, share in zip(solved.worlds, solved.chance, strict=True)
        for weight, by_sex, _ in genetics.sexed_kinds(solved, world, question)
    ]


def kinds_of(inheritance: Inheritance, sexed: Sexed) -> Kinds:
    """The kinds that a couple may be, whatever the sex of the young; weights sum to 1.

    A trait of incomplete penetrance is seen on so many of those that have the genes for it.
    """
    penetrance = _penetrances(inheritance)
    found: dict[tuple[tuple[tuple[str, ...], float], ...], float] = defaultdict(float)
    for weight, by_sex in sexed:
        by_look: Looks = defaultdict(float)
        for (_, look), p in by_sex.items():
            by_look[look] += p
        seen = _seen(by_look, penetrance)
        looks = tuple(sorted((look, min(p, 1.0)) for look, p in seen.items() if p > 0))
        found[looks] += weight
    whole = sum(found.values())
    return [(weight / whole, dict(looks)) for looks, weight in found.items()]


@dataclass(frozen=True)
class BySex:
    """What sons and daughters can look like in the one subproblem that decides sex.

    Attributes:
        born: the chance of a hatchling to be of either sex.
        looks: the share of the hatchlings of that sex by look.
    """

    born: Mapping[BornSex, float]
    looks: Mapping[BornSex, Looks]


def by_sex_of(inheritance: Inheritance, kinds: Sexed) -> BySex:
    """The shares of looks among sons and among daughters, averaged over what the couple may be."""
    penetrance = _penetrances(inheritance)
    whole = sum(weight for weight, _ in kinds)
    born: dict[BornSex, float] = {}
    looks: dict[BornSex, Looks] = {}
    for sex in ("female", "male"):
        own = [(w, {look: p for (of, look), p in k.items() if of == sex}) for w, k in kinds]
        found = [(w, sum(part.values()), _seen(part, penetrance)) for w, part in own]
        born[sex] = sum(w * p for w, p, _ in found) / whole
        looks[sex] = _shares([(w * p, p, seen) for w, p, seen in found if w * p > 0])
    # Where all are of one sex, as of a dam alone, nothing is to be told apart.
    some = {sex: looks[sex] if born[sex] > 0 else looks[other] for sex, other in _OTHER}
    return BySex(born, some)


def _shares(kinds: Sequence[tuple[float, float, Looks]]) -> Looks:
    """The average share of each look, of kinds with their weight and what their looks sum to."""
    import numpy as np

    weights = np.array([weight for weight, _, _ in kinds])
    shares = {}
    for look in {look for _, _, seen in kinds for look in seen}:
        values = np.array([seen.get(look, 0.0) / p for _, p, seen in kinds])
        shares[look] = mean(weights / weights.sum(), values)
    return shares


def _penetrances(inheritance: Inheritance) -> dict[str, float]:
    return {
        trait.name: float(trait.penetrance)
        for trait in inheritance.traits.values()
        if trait.penetrance < 1
    }


def _seen(by_look: Looks, penetrance: dict[str, float]) -> Looks:
    """What is seen of looks, without what a laboratory would find in a hatchling."""
    seen: Looks = defaultdict(float)
    for look, p in by_look.items():
        visible = tuple(name for name in look if not only_asked(name))
        for part, share in _penetrant(visible, penetrance):
            seen[part] += p * share
    return seen


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
    inheritance: Inheritance,
    subproblems: list[Kinds],
    eggs: Sequence[int],
    by_sex: Sequence[BySex | None],
) -> tuple[Look, ...]:
    """Every look over all subproblems, most likely first; `by_sex` where one decides sex.

    Raises:
        Unanswerable: the couple may be too many kinds.
    """
    _refuse_many(len(kinds) for kinds in subproblems)
    by_name = {trait.name: pk for pk, trait in inheritance.traits.items()}
    found = []
    for choice in product(*map(_spread, subproblems)):
        weights = together([weights for _, weights, _ in choice])
        chance = together([values for _, _, values in choice])
        each = mean(weights, chance)
        if each > 0:
            names = sorted(name for look, _, _ in choice for name in look)
            least = at_least_one(weights, chance, eggs)
            shares = _by_sex(subproblems, by_sex, [look for look, _, _ in choice])
            found.append(Look(tuple(by_name[name] for name in names), each, least, *shares))
    return tuple(sorted(found, key=lambda one: (-round(one.chance, 12), one.traits)))


def _spread(kinds: Kinds) -> list[tuple[tuple[str, ...], "genetics.Floats", "genetics.Floats"]]:
    """Each look with the chances that it may have, and how much the kinds weigh that give each."""
    import numpy as np

    found = []
    for look in sorted({look for _, looks in kinds for look in looks}):
        weighed: dict[float, float] = defaultdict(float)
        for weight, looks in kinds:
            weighed[looks.get(look, 0.0)] += weight
        found.append((look, np.array(list(weighed.values())), np.array(list(weighed))))
    return found


def _by_sex(
    subproblems: list[Kinds], by_sex: Sequence[BySex | None], choice: Sequence[tuple[str, ...]]
) -> tuple[float | None, float | None]:
    """The share of sons and of daughters with a look in each subproblem; None: that of all."""
    import numpy as np

    if not any(by_sex):
        return None, None
    sons = daughters = 1.0
    for kinds, own, look in zip(subproblems, by_sex, choice, strict=True):
        if own is not None:
            sons *= own.looks["male"].get(look, 0.0)
            daughters *= own.looks["female"].get(look, 0.0)
            continue
        share = mean(
            np.array([weight for weight, _ in kinds]),
            np.array([looks.get(look, 0.0) for _, looks in kinds]),
        )
        sons, daughters = sons * share, daughters * share
    return apart(sons, daughters)


def apart(sons: float, daughters: float) -> tuple[float | None, float | None]:
    """The share of sons and that of daughters where they differ."""
    return (None, None) if abs(sons - daughters) < _SAME else (sons, daughters)


def together(vectors: Sequence["genetics.Floats"]) -> "genetics.Floats":
    """The products of one entry of each vector, for every choice of entries.

    Raises:
        Unanswerable: there are too many.
    """
    import numpy as np

    _refuse_many(map(len, vectors))
    found = np.ones(1)
    for vector in vectors:
        found = np.multiply.outer(found, vector).ravel()
    return found


def _refuse_many(numbers: Iterable[int]) -> None:
    if prod(numbers) > _MOST:
        raise Unanswerable(
            "These two may differ in too many genes at once to list everything. Prove some of "
            "them out first, or ask for fewer."
        )


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
    found = dict.fromkeys(eggs, 0.0)
    laid, at_once = [n for n in found if n], max(1, _AT_ONCE // len(missed))
    for start in range(0, len(laid), at_once):
        some = laid[start : start + at_once]
        hit = -np.expm1(np.multiply.outer(np.array(some), missed)) @ weights
        found |= {n: unsure(p) for n, p in zip(some, hit.tolist(), strict=True)}
    return found


def mean(weights: "genetics.Floats", values: "genetics.Floats") -> float:
    """The average; exactly 1 where every value is and nowhere else, whatever rounding does."""
    return 1.0 if (values == 1).all() else unsure(float(weights @ values))
