"""The array pedigree that the kinship functions read: validated, and sorted parents first."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

TWO_PARENTS = -1.0
"""In place of a chance to be retained: there are a dam and a sire."""
FEMALE, MALE, UNKNOWN = 0, 1, 2
"""Sex codes."""

_SEX_NAMES = {FEMALE: "female", MALE: "male"}
_TOLERANCE = 1e-9


class Couple(NamedTuple):
    """A dam and a sire, -1 where unrecorded, and the chance that they are the parents.

    A dam alone (terminal fusion) stands in both places, with the chance, 0 to 1, that her young
    keep both of her alleles at a locus in `retained`; else that is `TWO_PARENTS`.
    """

    dam: int
    sire: int
    p: float = 1.0
    retained: float = TWO_PARENTS

    @property
    def alone(self) -> bool:
        """Whether it is a dam alone."""
        return self.retained != TWO_PARENTS

    def inbreeding(self, across: float) -> float:
        """Inbreeding of the young, given the kinship of dam and sire (of her with herself).

        Of a dam alone 1 - r (1 - F), with F = 2 across - 1: two copies of one allele, or both hers.
        """
        return 1.0 - 2.0 * self.retained * (1.0 - across) if self.alone else across


LooseCouple = tuple[int, int] | tuple[int, int, float] | tuple[int, int, float, float]


@dataclass(frozen=True)
class Pedigree:
    r"""Individuals 0 to n - 1, in any order, each with the couples that may be its parents.

    Parameters
    ----------
    couples : tuple of n tuples of Couple
        Candidate couples of each individual; their p sum to 1. An empty tuple is a founder. A
        parent of -1 is an unrecorded, unrelated founder that is not inbred: one for that
        individual alone or, in a litter, one per litter and role, the same for all its candidates
        and members. The two parents may be one individual (selfing) if its sex is unknown.
    sex : tuple of n codes, optional
        0 female, 1 male, 2 unknown (the default). An individual named as a dam is female and as
        a sire male, as if recorded so, and `sex` says so once the pedigree is built.
    litter : tuple of n integers, optional
        Members of one litter (equal number of 0 or more) share the couple that is drawn; they
        must name the same candidates. -1 (the default): a draw of its own. Sibs with draws of
        their own that share an unrecorded parent need that parent as an individual.

    Attributes
    ----------
    order : tuple of int
        The individuals, parents before offspring and litters together. It does not depend on
        draws: every candidate counts as a parent.
    rank : tuple of int
        Position of each individual in `order`.
    level : tuple of int
        Length of the longest known line of descent: 0 for a founder.

    Raises
    ------
    ValueError
        If lengths differ; if an index, a code or a probability is out of its range, or the
        probabilities do not sum to 1; if a dam is recorded as male or a sire as female; if
        litter-mates name different candidates; if an individual is its own ancestor.

    Examples
    --------
    Two certain sibs, and a pair of litter-mates with two possible sires:

    >>> pedigree = Pedigree.from_couples(
    ...     [[], [], [], [(0, 1)], [(0, 1)]] + [[(3, 1, 0.75), (3, 2, 0.25)]] * 2,
    ...     litter=[-1, -1, -1, -1, -1, 0, 0])
    >>> pedigree.level
    (0, 0, 0, 1, 1, 2, 2)
    """

    couples: tuple[tuple[Couple, ...], ...]
    sex: tuple[int, ...] = ()
    litter: tuple[int, ...] = ()
    order: tuple[int, ...] = field(init=False, repr=False, compare=False)
    rank: tuple[int, ...] = field(init=False, repr=False, compare=False)
    level: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        n = len(self.couples)
        couples = tuple(_read_couples(i, row, n) for i, row in enumerate(self.couples))
        litter = _read_codes("litter", self.litter, n, default=-1)
        sex = _complete_sexes(couples, _read_codes("sex", self.sex, n, default=UNKNOWN))
        _check_litters(couples, litter)
        level = _levels(couples)
        order = sorted(range(n), key=lambda i: (level[i], litter[i], i))
        rank = [0] * n
        for position, individual in enumerate(order):
            rank[individual] = position
        for name, value in (
            ("couples", couples),
            ("sex", sex),
            ("litter", litter),
            ("order", tuple(order)),
            ("rank", tuple(rank)),
            ("level", tuple(level)),
        ):
            object.__setattr__(self, name, value)

    @classmethod
    def from_couples(
        cls,
        couples: Iterable[Iterable[LooseCouple]],
        *,
        sex: Iterable[int] = (),
        litter: Iterable[int] = (),
    ) -> Pedigree:
        """Build a pedigree from candidate couples (dam, sire) or (dam, sire, p).

        Raises ValueError as `Pedigree` does.

        >>> Pedigree.from_couples([[], [], [(0, 1)]]).couples[2]
        (Couple(dam=0, sire=1, p=1.0),)
        """
        rows = tuple(tuple(Couple(*couple) for couple in row) for row in couples)
        return cls(rows, tuple(sex), tuple(litter))

    @classmethod
    def from_parents(
        cls,
        dam: Sequence[int],
        sire: Sequence[int],
        *,
        sex: Iterable[int] = (),
        litter: Iterable[int] = (),
    ) -> Pedigree:
        """Build a pedigree of certain parents from two arrays of indices, -1 where unrecorded.

        Raises ValueError if the arrays differ in length, or as `Pedigree` does.

        >>> Pedigree.from_parents(dam=[-1, -1, 0], sire=[-1, -1, 1]).level
        (0, 0, 1)
        """
        if len(dam) != len(sire):
            raise ValueError(f"dam has {len(dam)} entries and sire {len(sire)}; give one each")
        rows = tuple((Couple(d, s),) for d, s in zip(dam, sire, strict=True))
        return cls(rows, tuple(sex), tuple(litter))

    def __len__(self) -> int:
        """Return the number of individuals."""
        return len(self.couples)

    def check_individual(self, individual: int) -> int:
        """Return `individual` as a plain index; raise ValueError if there is no such individual."""
        index = int(individual)
        if index != individual or not 0 <= index < len(self.couples):
            raise ValueError(f"no individual {individual}: give 0 to {len(self.couples) - 1}")
        return index

    def separate_sexes(self) -> tuple[int, ...]:
        """Return `sex`; raise ValueError if somebody is named as a dam and as a sire."""
        for individual, _ in _named_roles(self.couples):
            if self.sex[individual] == UNKNOWN:
                raise ValueError(f"individual {individual} is named as a dam and as a sire")
        return self.sex


def _read_couples(individual: int, row: Iterable[Couple], n: int) -> tuple[Couple, ...]:
    """Return the couples of one individual, validated; a founder gets a couple of two -1."""
    couples = []
    for k, (dam, sire, p, retained) in enumerate(row):
        couple = Couple(int(dam), int(sire), float(p), float(retained))
        place = f"couples[{individual}][{k}]"
        if couple.alone and (couple.dam != couple.sire or not 0.0 <= couple.retained <= 1.0):
            raise ValueError(
                f"{place}: ({dam}, {sire}) with retained {retained} is no dam alone, who stands in "
                "both places, with a chance from 0 to 1"
            )
        for role, given, parent in (("dam", dam, couple.dam), ("sire", sire, couple.sire)):
            if parent != given or not -1 <= parent < n:
                raise ValueError(f"{place}.{role}: {given} is neither -1 nor one of 0 to {n - 1}")
        if not 0.0 <= couple.p <= 1.0:
            raise ValueError(f"{place}.p: {couple.p} is not a probability (0 to 1)")
        couples.append(couple)
    total = math.fsum(couple.p for couple in couples)
    if couples and abs(total - 1.0) > _TOLERANCE:
        raise ValueError(f"couples[{individual}]: probabilities sum to {total:.12g}, not 1")
    return tuple(couples) or (Couple(-1, -1),)


def _read_codes(name: str, codes: Sequence[int], n: int, *, default: int) -> tuple[int, ...]:
    """Return `codes` (of `name`, "sex" or "litter") as plain integers, `default` if none given."""
    if len(codes) == 0:
        return (default,) * n
    if len(codes) != n:
        raise ValueError(f"{name} has {len(codes)} entries for {n} individuals; give one each")
    for i, code in enumerate(codes):
        if (
            int(code) != code
            or code < -1
            or (name == "sex" and code not in (FEMALE, MALE, UNKNOWN))
        ):
            accepted = (
                "0 female, 1 male or 2 unknown" if name == "sex" else "-1 or a number of 0 or more"
            )
            raise ValueError(f"{name}[{i}]: {code} is not {accepted}")
    return tuple(int(code) for code in codes)


def _named_roles(couples: tuple[tuple[Couple, ...], ...]) -> list[tuple[int, int]]:
    """Return every (individual, sex code) that the couples imply, once for each distinct couple."""
    named = {couple for row in couples for couple in row}
    pairs = {(one.dam, FEMALE) for one in named} | {
        (one.sire, MALE) for one in named if not one.alone
    }
    return sorted(pair for pair in pairs if pair[0] >= 0)


def _complete_sexes(
    couples: tuple[tuple[Couple, ...], ...], sex: tuple[int, ...]
) -> tuple[int, ...]:
    """Return the sex codes completed by roles; somebody in both roles stays unknown."""
    roles: dict[int, set[int]] = {}
    for individual, code in _named_roles(couples):
        roles.setdefault(individual, set()).add(code)
        if sex[individual] not in (code, UNKNOWN):
            role = "dam" if code == FEMALE else "sire"
            raise ValueError(
                f"sex[{individual}]: individual {individual} is recorded as "
                f"{_SEX_NAMES[sex[individual]]} but named as a {role}"
            )
    completed = list(sex)
    for individual, codes in roles.items():
        if len(codes) == 1:
            completed[individual] = codes.pop()
    return tuple(completed)


def _check_litters(couples: tuple[tuple[Couple, ...], ...], litter: tuple[int, ...]) -> None:
    first: dict[int, int] = {}
    for individual, number in enumerate(litter):
        if number < 0:
            continue
        mate = first.setdefault(number, individual)
        if sorted(couples[mate]) != sorted(couples[individual]):
            raise ValueError(
                f"litter {number}: individuals {mate} and {individual} name different couples"
            )


def _levels(couples: tuple[tuple[Couple, ...], ...]) -> list[int]:
    """Return the longest known line of descent above each individual; raise on a cycle.

    Litter-mates name the same parents, so they get the same level and everything that descends
    from one of them a higher one: sorting by level keeps a litter ahead of its descendants.
    """
    parents = [{p for c in row for p in c[:2] if p >= 0} for row in couples]
    offspring: list[list[int]] = [[] for _ in couples]
    for individual, its_parents in enumerate(parents):
        for parent in its_parents:
            offspring[parent].append(individual)
    waiting = [len(its_parents) for its_parents in parents]
    level = [0] * len(couples)
    ready = [individual for individual, count in enumerate(waiting) if count == 0]
    for individual in ready:  # grows while it is read: each individual follows its last parent
        for child in offspring[individual]:
            level[child] = max(level[child], level[individual] + 1)
            waiting[child] -= 1
            if waiting[child] == 0:
                ready.append(child)
    if len(ready) < len(couples):
        raise ValueError(_describe_cycle(parents, waiting))
    return level


def _describe_cycle(parents: list[set[int]], waiting: list[int]) -> str:
    """Return a message that names a cycle: climb from anyone unsorted until somebody recurs."""
    climbed: dict[int, None] = {}  # a set that keeps its order
    current = next(individual for individual, count in enumerate(waiting) if count)
    while current not in climbed:
        climbed[current] = None
        current = min(parent for parent in parents[current] if waiting[parent])
    way = list(climbed)
    cycle = [str(individual) for individual in way[way.index(current) :]]
    shown = cycle if len(cycle) <= 6 else [*cycle[:6], "..."]
    return f"individual {current} is its own ancestor ({' <- '.join([*shown, cycle[0]])})"
