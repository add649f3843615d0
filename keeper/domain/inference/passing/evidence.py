"""What another book is told of an animal: the part of the book that its figures rest on, as cases.

Nobody is named in it: animals and clutches go by labels of this one paper (A1 is the animal
itself) beside the identities that travel, and what a source said of a founder is only what the
founder is taken to be. Whoever solves a case has the figures; they are its answers to `ask.joint`.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import genetics
from keeper.domain.inference.passing.labels import Labels
from keeper.domain.inference.questions.asking import Subproblem, Unanswerable, families_of
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.models import Animal, Line, SexDetermination, Shown, Standing, Statement, Trait, Word

# A paper with more is none that somebody sends.
MOST_ANIMALS = 1500
_SAME = 1e-9

DISPUTED = "disputed: nothing is claimed of it"
TOO_LARGE = "its figure rests on more than can be worked out exactly"
NOT_ALONE = "its figure rests on more of the book than a paper can hold"


def evidence(animal: Animal) -> "genetics.JsonObject":
    """Return all that another book needs to work out what this one says of an animal.

    Traits whose figures cannot be reproduced are listed with the reason, and nothing is told of
    them.
    """
    standings = _standings(animal)
    told = _Told(animal, standings)
    try:
        asked = families_of(animal.species, [animal.pk])
    except Unanswerable:
        told.leave_out(standings, TOO_LARGE)
        return told.whole()
    for part in asked.subproblems:
        told.tell(part)
    told.leave_out(set(standings) - told.done, NOT_ALONE)
    return told.whole()


@dataclass(frozen=True)
class _Figure:
    """A figure of the paper, and the question that answers it.

    Attributes:
        copies: which copies it counts: "carries" (at least one), or "two".
        keys: by locus the keys that are asked for; of "carries" those without a copy.
    """

    trait: Trait
    line: Line | None
    copies: str
    chance: float
    keys: Mapping[str, tuple[str, ...]]

    def answered(self, chance: float) -> float:
        """The figure by the answer to its question."""
        return 1 - chance if self.copies == "carries" else chance


@dataclass
class _Told:
    """What is told so far."""

    animal: Animal
    standings: Mapping[int, list[Standing]]
    parts: "list[genetics.JsonObject]" = field(default_factory=list)
    left_out: dict[int, str] = field(default_factory=dict)
    done: set[int] = field(default_factory=set)
    labels: Labels = field(default_factory=Labels)

    def leave_out(self, traits: Iterable[int], why: str) -> None:
        """Say of which traits nothing is told."""
        for trait in traits:
            if trait not in self.done:
                self.left_out.setdefault(trait, why)
                self.done.add(trait)

    def tell(self, part: Subproblem) -> None:
        """Tell what bears on the animal in one part of the book, a case for what hangs together."""
        inheritance, code = part.of.inheritance, part.code(self.animal)
        self.labels.open(part.of.rows, self.animal)
        for group in part.book.groups:
            wanted = [trait for trait in sorted(self.standings) if trait in group.traits]
            if not wanted or set(wanted) <= self.done:
                continue
            locus = inheritance.loci[min(group.loci)].name
            book = genetics.relevant(part.book.population, code, locus)
            names = {one.id for one in book.loci}
            near = [
                one
                for one in part.book.groups
                if any(inheritance.loci[pk].name in names for pk in one.loci)
            ]
            self._one(part, book, near)

    def _one(self, part: Subproblem, book: "genetics.Population", groups: list[LocusGroup]) -> None:
        traits = {trait for group in groups for trait in group.traits}
        wanted = [trait for trait in sorted(self.standings) if trait in traits - self.done]
        if any(one.is_disputed for trait in wanted for one in self.standings[trait]):
            self.leave_out(wanted, DISPUTED)
            return
        if len(book.animals) > MOST_ANIMALS:
            self.leave_out(wanted, TOO_LARGE)
            return
        figures = [
            one
            for trait in wanted
            for standing in self.standings[trait]
            for one in _figures(part.of.inheritance, self.animal, standing)
        ]
        answers = _answers(book, part.code(self.animal), figures)
        if answers is None:
            self.leave_out(wanted, TOO_LARGE)
            return
        sure = {one.trait.pk for one in figures} - {
            one.trait.pk
            for one, answer in zip(figures, answers, strict=True)
            if abs(one.answered(answer) - one.chance) > _SAME
        }
        self.leave_out(set(wanted) - sure, NOT_ALONE)
        if sure:
            kept = [
                (one, one.answered(answer))
                for one, answer in zip(figures, answers, strict=True)
                if one.trait.pk in sure
            ]
            self.parts.append(self._written(part, book, kept))
            self.done |= sure

    def _written(
        self, part: Subproblem, book: "genetics.Population", kept: list[tuple[_Figure, float]]
    ) -> "genetics.JsonObject":
        code, inheritance = part.code(self.animal), part.of.inheritance
        asked = tuple(genetics.JointQuestion(code, one.keys) for one, _ in kept)
        case = genetics.Case(population=book, ask=genetics.Questions(joint=asked))
        neutral = self.labels.neutral(genetics.write_case(case), part.book.clutch_ids)
        return {
            "case": neutral.case,
            "lines": _lines(inheritance, book),
            "figures": [
                {
                    "trait": one.trait.name,
                    "line": one.line.code if one.line else "",
                    "copies": one.copies,
                    "chance": chance,
                }
                for one, chance in kept
            ],
            "borrowed": self._borrowed(part, book, neutral.traits),
        }

    def _borrowed(
        self, part: Subproblem, book: "genetics.Population", traits: Mapping[str, str]
    ) -> list[dict[str, str]]:
        """Which records of a case are what papers of other books say, by the digest of each."""
        names = [
            (name, pk)
            for name in genetics.records(book)
            for kind, pk in part.book.sources.get(name, ())
            if kind == "statement" and name.kind == "animal"
        ]
        rows = Statement.objects.filter(pk__in={pk for _, pk in names}).exclude(signed=None)
        digests = dict(rows.values_list("pk", "signed__digest"))
        return [
            {
                "paper": digests[pk],
                "animal": self.labels.animal(name.owner),
                "shows": traits.get(name.of, "") if name.part == "shows" else "",
            }
            for name, pk in names
            if pk in digests
        ]

    def whole(self) -> "genetics.JsonObject":
        """All of it, as it is signed."""
        species = self.animal.species
        told = {trait.pk: trait for rows in self.standings.values() for trait in (rows[0].trait,)}
        return {
            "engine": genetics.VERSION,
            "species": {
                "name": species.name,
                "scientific_name": species.scientific_name,
                "sex_determination": SexDetermination(species.sex_determination).value,
            },
            "animal": "A1",
            "identity": str(self.animal.identity),
            "sex": self.animal.sex,
            "hatched_on": self.animal.hatched_on.isoformat() if self.animal.hatched_on else "",
            "hatched_year": self.animal.hatched_year or 0,
            "traits": [
                {"name": told[pk].name, "shown": told[pk].shown}
                for pk in sorted(told, key=lambda pk: told[pk].name)
                if pk in self.done and pk not in self.left_out
            ],
            "identities": self.labels.identities(),
            "parts": self.parts,
            "left_out": [
                {"trait": told[pk].name, "why": why}
                for pk, why in sorted(self.left_out.items(), key=lambda one: told[one[0]].name)
            ],
        }


def _standings(animal: Animal) -> dict[int, list[Standing]]:
    """Trait → what stands of it on the animal, over all lines first; double forms are their base's.

    What is certainly absent is no claim.
    """
    rows = Standing.objects.filter(animal=animal).exclude(word=Word.ABSENT)
    rows = rows.exclude(trait__shown=Shown.EVERY)
    found: dict[int, list[Standing]] = {}
    for one in rows.select_related("trait", "line").order_by("trait_id", "line_id"):
        if one.none < 1:
            found.setdefault(one.trait_id, []).append(one)
    return {
        trait: sorted(listed, key=lambda one: (one.line_id is not None, one.line_id or 0))
        for trait, listed in found.items()
    }


def _figures(inheritance: Inheritance, animal: Animal, one: Standing) -> Iterator[_Figure]:
    """The figures of a standing: that it carries, and where it is one gene, that it has two."""
    lines = [
        line
        for line in inheritance.lines_of(inheritance.traits[one.trait_id])
        if one.line_id in (None, line.pk)
    ]
    loci = sorted({line.locus_id for line in lines})
    among = {line.pk for line in lines}

    def keys(copies: int) -> dict[str, tuple[str, ...]]:
        return {
            inheritance.loci[pk].name: tuple(
                key
                for key, has in _keys(inheritance, animal, pk)
                if sum(a in among for a in has) == copies
            )
            for pk in loci
        }

    yield _Figure(one.trait, one.line, "carries", one.two + one.one if one.none else 1.0, keys(0))
    if len(loci) == 1 and one.two > 0:
        yield _Figure(one.trait, one.line, "two", one.two, keys(2))


def _keys(
    inheritance: Inheritance, animal: Animal, locus: int
) -> list[tuple[str, tuple[int | None, ...]]]:
    """The keys that an animal may have at a locus by its sex."""
    keys = inheritance.keys(locus)
    if inheritance.single_mark(locus) is None or animal.sex == "unknown":
        return keys
    single = animal.sex == inheritance.heterogametic
    return [(key, has) for key, has in keys if (len(has) == 1) == single]


def _answers(book: "genetics.Population", code: str, figures: list[_Figure]) -> list[float] | None:
    """What the case answers; None where that is more than can be worked out exactly."""
    queries = tuple({tuple((code, locus) for locus in one.keys): None for one in figures})
    try:
        solved = genetics.solve(book, queries=queries, exact_only=True)
    except (genetics.BeyondExact, genetics.ImpossibleEvidence):
        return None
    if not solved.exact:
        return None
    return [genetics.joint(solved, code, one.keys) for one in figures]


def _lines(inheritance: Inheritance, book: "genetics.Population") -> list[dict[str, str]]:
    """What each allele of a case is: a line of a trait."""
    names = {one.id for one in book.loci}
    return [
        {
            "locus": inheritance.loci[locus].name,
            "allele": line.code,
            "trait": inheritance.traits[line.trait_id].name,
            "name": line.name,
        }
        for locus, lines in inheritance.at_locus.items()
        if inheritance.loci[locus].name in names
        for line in lines
    ]
