"""What the evidence of a signed paper says of its animal, by cases that another book wrote.

Of an animal that comes with its papers: how likely it has which copies, by all that the other book
knew. Of an animal that is in this book and bred elsewhere: how likely all that was seen there is,
for each number of copies that it may have; what the other book took it to be is left out, and with
it all that this book told it, so that nothing counts twice.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import genetics
from keeper.domain.inference.passing.evidence import MOST_ANIMALS
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.models import Line, Species

ANIMAL = "A1"
# What one animal may be at the loci of one group, at most.
_MOST_STATES = 4096
_MOST_LOCI, _MOST_PAIRS = 60, 8
_WILD = "+"
_SAME = 1e-12

# An allele of a case: part, locus, allele.
Allele = tuple[int, str, str]
# Copies of lines, by id.
Copies = tuple[tuple[int, int], ...]


class Unusable(Exception):
    """Evidence that this book can make nothing of; the message says why."""


@dataclass(frozen=True)
class PartTold:
    """What a paper tells of lines whose figures hang together.

    Attributes:
        lines: these lines of this book, by id.
        rows: weight by copies. Of an animal that comes with its papers they sum to 1; of one that
            bred elsewhere their average, by what the other book took it to be, is 1.
    """

    lines: tuple[int, ...]
    rows: tuple[tuple[float, Copies], ...]

    def tells(self, *, bred: bool) -> bool:
        """Whether it says anything: that it may carry a line, or that some copies are likelier."""
        if bred:
            weights = [weight for weight, _ in self.rows]
            return max(weights) - min(weights) > _SAME
        return any(weight and any(n for _, n in copies) for weight, copies in self.rows)


@dataclass(frozen=True)
class Reproduced:
    """A figure of a paper, and what comes out where this book works it out from the evidence."""

    trait: str
    line: str
    copies: str
    stated: float
    found: float | None

    @property
    def agrees(self) -> bool:
        """Whether both are the same."""
        return self.found is not None and abs(self.found - self.stated) <= 1e-9


def reproduced(evidence: "genetics.JsonObject") -> list[Reproduced]:
    """Work out every figure that is stated, from the evidence alone.

    Raises:
        Unusable: a case cannot be read, or is too large.
    """
    found = []
    for part in evidence["parts"]:
        case = _case(part["case"])
        asked = case.ask.joint
        if len(asked) != len(part["figures"]):
            raise Unusable("its figures are not those that its cases ask for")
        solved = _solve(case.population, [tuple((q.animal, a) for a in q.genotypes) for q in asked])
        for question, one in zip(asked, part["figures"], strict=True):
            answer = None
            if solved is not None and question.animal == ANIMAL:
                chance = genetics.joint(solved, question.animal, question.genotypes)
                answer = 1 - chance if one["copies"] == "carries" else chance
            found.append(
                Reproduced(one["trait"], one["line"], one["copies"], one["chance"], answer)
            )
    return found


def told_by(
    evidence: "genetics.JsonObject",
    lines: Mapping[Allele, Line],
    species: Species,
    *,
    bred: bool,
    known: Collection[str],
) -> list[PartTold]:
    """Return what a paper says of an animal, for lines of this book.

    Args:
        evidence: what was signed.
        lines: which line of this book an allele of the evidence is; the others are left out.
        species: of the animal, in this book.
        bred: whether the animal is in this book by itself and the paper tells what it bred.
        known: digests of papers that this book has or signed; what they say is left out.

    Raises:
        Unusable: a case cannot be read or is too large, or does not fit the lines of this book.
    """
    inheritance = Inheritance.load(species)
    found = []
    for number, part in enumerate(evidence["parts"]):
        own = {key[1:]: line for key, line in lines.items() if key[0] == number}
        case = _Part(_without(_case(part["case"]).population, part["borrowed"], known), own)
        for group in inheritance.groups:
            wanted = [line for line in own.values() if line.pk in group.lines]
            if wanted:
                found.append(case.told(group, bred=bred))
    return [one for one in found if one.tells(bred=bred)]


def _case(data: "genetics.JsonObject") -> "genetics.Case":
    try:
        case = genetics.read_case(data)
    except genetics.MalformedCase as fault:
        raise Unusable(f"a case of it cannot be read: {fault}") from fault
    book = case.population
    if is_too_large(book):
        raise Unusable("a case of it is larger than any that this program writes")
    if ANIMAL not in book.animal_index:
        raise Unusable("a case of it does not tell of the animal")
    return case


def is_too_large(book: "genetics.Population") -> bool:
    """Whether a case is larger than any that this program writes."""
    return (
        len(book.animals) > MOST_ANIMALS
        or len(book.loci) > _MOST_LOCI
        or len(book.same_locus) > _MOST_PAIRS
    )


def _solve(
    book: "genetics.Population", queries: Iterable[tuple[tuple[str, str], ...]] = ()
) -> "genetics.Solved | None":
    try:
        return genetics.solve(book, queries=tuple(dict.fromkeys(queries)), exact_only=True)
    except genetics.BeyondExact as beyond:
        raise Unusable("a case of it is more than can be worked out exactly") from beyond
    except genetics.ImpossibleEvidence:
        return None


def _without(
    book: "genetics.Population", borrowed: Sequence[Mapping[str, str]], known: Collection[str]
) -> "genetics.Population":
    """A case without the looks that papers tell which this book has or signed."""
    gone: dict[str, set[str]] = defaultdict(set)
    for one in borrowed:
        if one["paper"] in known and one["shows"]:
            gone[one["animal"]].add(one["shows"])
    animals = tuple(
        animal._replace(
            shows={name: seen for name, seen in animal.shows.items() if name not in gone[animal.id]}
        )
        if animal.id in gone
        else animal
        for animal in book.animals
    )
    return replace(book, animals=animals) if gone else book


@dataclass(frozen=True)
class _Part:
    """A case, and which line of this book its alleles are."""

    book: "genetics.Population"
    lines: Mapping[tuple[str, str], Line]

    def told(self, group: LocusGroup, *, bred: bool) -> PartTold:
        """What it tells of the lines of one group of this book."""
        own = {key: line.pk for key, line in self.lines.items() if line.pk in group.lines}
        loci = tuple(sorted({locus for locus, _ in own}))
        weights = self._bred(loci) if bred else self._is(self.book, loci)
        rows: dict[Copies, float] = defaultdict(float)
        counts: dict[Copies, int] = defaultdict(int)
        for keys, weight in weights.items():
            copies = _copies(own, loci, keys)
            rows[copies] += weight
            counts[copies] += 1
        _refuse_crowded(self.lines.values(), rows)
        if bred:
            # Keys with the same copies of what is told of are as likely as one another on average.
            rows = {copies: weight / counts[copies] for copies, weight in rows.items()}
            rows = self._scaled(rows, loci, own)
        ordered = sorted(rows.items())
        return PartTold(tuple(sorted(own.values())), tuple((w, copies) for copies, w in ordered))

    def _scaled(
        self,
        rows: Mapping[Copies, float],
        loci: tuple[str, ...],
        own: Mapping[tuple[str, str], int],
    ) -> dict[Copies, float]:
        """The same with an average of 1 by what the other book takes the animal to be."""
        prior: dict[Copies, float] = defaultdict(float)
        for keys, chance in self._before(loci).items():
            prior[_copies(own, loci, keys)] += chance
        mean = sum(prior[copies] * weight for copies, weight in rows.items())
        if not mean:
            mean = sum(rows.values()) / len(rows) if rows else 1
        if not mean:
            raise Unusable("what it says cannot be, whatever the animal is")
        return {copies: weight / mean for copies, weight in rows.items()}

    @cached_property
    def _animal(self) -> "genetics.Animal":
        return self.book.animals[self.book.animal_index[ANIMAL]]

    def _before(self, loci: tuple[str, ...]) -> dict[tuple[str, ...], float]:
        """What the other book takes the animal to be before anything that it saw of it."""
        alone = self._animal._replace(
            dam=None, sire=None, clutch=None, shows={}, likelihood={}, begins=()
        )
        book = replace(self.book, animals=(alone,), clutches=())
        return self._is(book, loci)

    def _bred(self, loci: tuple[str, ...]) -> dict[tuple[str, ...], float]:
        """How likely all that was seen is, for each of what the animal may be; up to a factor."""
        sex = self._animal.sex
        keys = self._possible(loci)
        joint = tuple(
            genetics.FounderRow(p=1 / len(keys), genotypes=dict(zip(loci, one, strict=True)))
            for one in keys
        )
        others = {locus: said for locus, said in self._animal.founder.items() if locus not in loci}
        anything = genetics.Animal(
            id=ANIMAL, sex=sex, shows=self._animal.shows, likelihood=self._animal.likelihood,
            founder=others, founder_joint=joint,
        )  # fmt: skip
        animals = tuple(anything if one.id == ANIMAL else one for one in self.book.animals)
        found = self._is(replace(self.book, animals=animals), loci)
        return {one: found.get(one, 0.0) for one in keys}

    def _possible(self, loci: tuple[str, ...]) -> list[tuple[str, ...]]:
        """The keys that it may have by its sex."""
        anyone = genetics.Animal(id=ANIMAL, sex=self._animal.sex)
        book = replace(self.book, animals=(anyone,), clutches=(), trust={})
        solved = _solve(book)
        if solved is None:
            raise Unusable("its loci leave nothing possible")
        every = [tuple(solved.posterior(ANIMAL, locus)) for locus in loci]
        return _bounded(every)

    def _is(
        self, book: "genetics.Population", loci: tuple[str, ...]
    ) -> dict[tuple[str, ...], float]:
        """The chance of each combination of keys that the animal may have."""
        query = tuple((ANIMAL, locus) for locus in loci)
        solved = _solve(book, [query])
        if solved is None:
            raise Unusable("what it says cannot all be true")
        every = [
            tuple(key for key, chance in solved.posterior(ANIMAL, locus).items() if chance > 0)
            for locus in loci
        ]
        found = {}
        for keys in _bounded(every):
            asked = {locus: (key,) for locus, key in zip(loci, keys, strict=True)}
            chance = genetics.joint(solved, ANIMAL, asked)
            if chance > 0:
                found[keys] = chance
        return found


def _bounded(every: list[tuple[str, ...]]) -> list[tuple[str, ...]]:
    count = 1
    for one in every:
        count *= len(one)
    if count > _MOST_STATES:
        raise Unusable("too many of its genes hang together")
    return list(product(*every))


def _copies(
    own: Mapping[tuple[str, str], int], loci: tuple[str, ...], keys: tuple[str, ...]
) -> Copies:
    found: dict[int, int] = dict.fromkeys(own.values(), 0)
    for locus, key in zip(loci, keys, strict=True):
        for allele in key.replace("|", "/").split("/"):
            if allele != _WILD and (locus, allele) in own:
                found[own[locus, allele]] += 1
    return tuple(sorted(found.items()))


def _refuse_crowded(lines: Iterable[Line], rows: Mapping[Copies, float]) -> None:
    """Refuse what needs more than two copies at one locus of this book."""
    at = {line.pk: line for line in lines}
    for copies, weight in rows.items():
        if not weight:
            continue
        there: dict[int, int] = defaultdict(int)
        for pk, count in copies:
            there[at[pk].locus_id] += count
        for locus, count in there.items():
            if count > 2:
                several = " and ".join(
                    sorted({str(at[pk]) for pk, n in copies if n and at[pk].locus_id == locus})
                )
                raise Unusable(
                    f"by the paper it may have {count} copies of {several}, which are one gene in "
                    "this book"
                )


__all__ = ["ANIMAL", "Allele", "PartTold", "Reproduced", "Unusable", "reproduced", "told_by"]
