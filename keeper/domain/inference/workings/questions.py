"""Whether an animal carries some lines, asked of any part of the book."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import genetics
from keeper.domain.inference.questions.asking import Subproblem
from keeper.domain.inference.reading.inheritance import codes_of
from keeper.domain.inference.standings.copies import unsure
from keeper.models import Animal, Line, Trait


@dataclass(frozen=True)
class Answer:
    """The chance of carrying, and whether inference was exact."""

    carries: float
    exact: bool


@dataclass(frozen=True)
class Question:
    """Does the animal carry a look's lines: any of them, at whichever locus?

    Attributes:
        code: the animal.
        places: name of each locus where it may → the codes of the lines there.
    """

    code: str
    places: Mapping[str, frozenset[str]]
    _spaces: "genetics.Spaces" = field(default_factory=dict)

    def relevant(self, population: genetics.Population) -> genetics.Population:
        """The part of a population that can bear on the answer."""
        for locus in self.places:
            part = genetics.relevant(population, self.code, locus)
            if self.places.keys() <= part.locus_index.keys():
                return part
        # Nothing joins the loci: no single part holds all of them.
        return population

    def ask(self, population: genetics.Population) -> Answer:
        """The answer of a population.

        Raises:
            ImpossibleEvidence: its records cannot all be true.
            BeyondExact: it is too large.
        """
        joint = tuple((self.code, locus) for locus in self.places)
        queries = (joint,) if len(joint) > 1 else ()
        solved = genetics.solve(population, queries=queries, spaces=self._spaces)
        with_, without = 0.0, 1.0
        for locus in self.places:
            has, lacks = self._at(solved, locus)
            with_, without = with_ + has, min(without, lacks)
        if with_ <= 0:
            return Answer(0.0, solved.exact)
        if len(joint) > 1:
            without = self._none_anywhere(solved)
            with_ = 1 - without
        return Answer(1.0 if without <= 0 else unsure(with_), solved.exact)

    def _at(self, solved: "genetics.Solved", locus: str) -> tuple[float, float]:
        chances = solved.posterior(self.code, locus)
        carrying = self._carrying(chances, locus)
        return (
            sum(chances[key] for key in carrying),
            sum(p for key, p in chances.items() if key not in carrying),
        )

    def _carrying(self, keys: Iterable[str], locus: str) -> set[str]:
        return {key for key in keys if self.places[locus] & set(codes_of(key))}

    def _none_anywhere(self, solved: "genetics.Solved") -> float:
        lacking = {}
        for locus in self.places:
            keys = solved.posterior_table(locus)[1]
            carrying = self._carrying(keys, locus)
            lacking[locus] = [key for key in keys if key not in carrying]
        return float(genetics.joint(solved, self.code, lacking))


def question_of(part: Subproblem, animal: Animal, trait: Trait, line: Line | None) -> Question:
    """The question that a standing answers: of a look, or of one of its lines."""
    inheritance = part.of.inheritance
    places: dict[str, frozenset[str]] = {}
    for one in inheritance.lines_of(trait):
        if (line is None or one.pk == line.pk) and one.locus_id in part.loci:
            name = inheritance.loci[one.locus_id].name
            places[name] = places.get(name, frozenset()) | {one.code}
    return Question(part.code(animal), places)
