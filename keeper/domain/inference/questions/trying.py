"""Whether one statement holds, by the book without anybody's word."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.standings.copies import Figure, Whose
from keeper.domain.inference.standings.facts import Facts
from keeper.models import Claim, Found, Shown, Statement


class Outcome(StrEnum):
    """What came of a statement."""

    HELD = "held"
    NOT_HELD = "did not hold"
    DISPUTED = "disputed"
    CLEAN = "tested clean so far"
    OPEN = "not tested yet"


@dataclass(frozen=True)
class Tried:
    """A statement with what came of it, and by what (empty: nothing to name)."""

    statement: Statement
    outcome: Outcome
    why: str

    @property
    def is_possible(self) -> bool:
        """Whether odds were stated, which one animal can neither bear out nor belie."""
        return self.statement.claim == Claim.POSSIBLE and self.statement.chance != Fraction(1)

    @property
    def claim(self) -> Claim:
        """What was stated; a possible het of 100 % is a 100 % het."""
        possible = self.statement.claim == Claim.POSSIBLE
        return Claim.CARRIES if possible else Claim(self.statement.claim)


NOTHING = Figure(0.0, 0.0, 1.0)
_REST = "the rest of the book leaves nothing else"
_EXCLUDED = "the rest of the book excludes it"


@dataclass(frozen=True)
class Trial:
    """The book without words, and what can be read off its rows directly.

    Attributes:
        facts: looks, and young that showed a trait.
        known: figures without anybody's word; who carries nothing is left out.
        inside: traits of a group of loci → whose figures `known` has.
    """

    inheritance: Inheritance
    rows: Rows
    facts: Facts
    known: Mapping[Whose, Figure]
    inside: Mapping[frozenset[int], set[int]]

    def of(self, statement: Statement) -> tuple[Outcome, str]:
        """Return what came of a statement, and by what."""
        owner = self._owner(statement)
        whose = (statement.animal_id, owner)
        if statement.claim == Claim.VISUAL and (statement.animal_id, statement.trait_id) in (
            self.facts.visual
        ):
            return Outcome.HELD, "seen here"
        if statement.claim == Claim.VISUAL and statement.trait.shown == Shown.RULES:
            # Which copies show it only its rules say: its look alone tells.
            return Outcome.OPEN, ""
        copies = self._copies(statement)
        said, because = self._votes(statement, whose, copies)
        figure = self._figure(statement, owner)
        if figure is None:
            return (_outcome(said.pop()), because) if len(said) == 1 else (Outcome.OPEN, "")
        chance, other = _chances(figure, copies)
        if self._of_another_line(statement, owner, copies):
            return Outcome.NOT_HELD, "it is of another line"
        if other == 0:
            return Outcome.HELD, because if said == {True} else _REST
        if chance == 0:
            return Outcome.NOT_HELD, because if said == {False} else self._excluded(statement)
        if len(said) == 1:
            (vote,) = said
            if (chance > other) == vote:
                return _outcome(vote), because
        return Outcome.OPEN, ""

    def _excluded(self, statement: Statement) -> str:
        look = self.rows.observations.get(statement.animal_id, {}).get(statement.trait_id)
        unseen = look is not None and not look.seen
        return "not seen on it here" if unseen and statement.claim == Claim.VISUAL else _EXCLUDED

    def _owner(self, statement: Statement) -> int:
        """The trait that has the figures: a double form takes those of its base."""
        trait = statement.trait
        return trait.base_id if trait.shown == Shown.EVERY and trait.base_id else trait.pk

    def _copies(self, statement: Statement) -> str:
        """What a statement needs: "two" copies, "some", or "none"."""
        if statement.claim == Claim.CLEAR:
            return "none"
        if statement.claim in (Claim.CARRIES, Claim.POSSIBLE):
            return "some"
        trait = statement.trait
        if statement.claim == Claim.VISUAL and trait.shown in (Shown.SINGLE, Shown.DOMINANT):
            return "some"
        lines = self.inheritance.lines_of(trait)
        hetero = self.inheritance.heterogametic
        single = bool(lines) and all(
            self.inheritance.single_mark(line.locus_id) is not None for line in lines
        )
        return "some" if single and statement.animal.sex == hetero else "two"

    def _figure(self, statement: Statement, owner: int) -> Figure | None:
        """Chances of two, one and no copies; None where nothing in the book bears on it."""
        line = statement.line_id if statement.claim == Claim.CLEAR else None
        animal = statement.animal_id
        for traits, animals in self.inside.items():
            if owner in traits and animal in animals:
                return self.known.get((animal, owner, line), NOTHING)
        return None

    def _of_another_line(self, statement: Statement, owner: int, copies: str) -> bool:
        """Whether it carries the trait for certain, and certainly not by the line that was said."""
        if statement.line_id is None or copies == "none":
            return False
        animal = statement.animal_id
        whole = self.known.get((animal, owner, None), NOTHING)
        return whole.none == 0 and (animal, owner, statement.line_id) not in self.known

    def _votes(
        self, statement: Statement, whose: tuple[int, int], copies: str
    ) -> tuple[set[bool], str]:
        """What looks, young and laboratories say for or against it, taken at their word."""
        found: dict[bool, str] = {}
        recessive = self.inheritance.traits[whose[1]].shown == Shown.RECESSIVE
        double, carries = whose in self.facts.double, whose in self.facts.visual
        if double or (carries and copies != "two"):
            found[copies != "none"] = "seen here"
        if whose in self.facts.proven and recessive and copies != "two":
            found.setdefault(copies != "none", "young of it showed it")
        for vote in self._laboratories(statement, whose[1], copies):
            found.setdefault(vote, "a laboratory’s result")
        return set(found), next(iter(found.values()), "")

    def _laboratories(self, statement: Statement, owner: int, copies: str) -> set[bool]:
        lines = {one.pk for one in self.inheritance.lines.values() if one.trait_id == owner}
        asked = lines if statement.line_id is None else {statement.line_id}
        answers: set[bool] = set()
        without: set[int] = set()
        for test in self.rows.lab_tests.get(statement.animal_id, ()):
            if test.line not in asked:
                continue
            if test.found == Found.NONE:
                without.add(test.line)
            elif copies == "two" and test.found != Found.CARRIES:
                answers.add(test.found == Found.TWO)
            elif copies != "two":
                answers.add(copies == "some")
        if without and without == asked:
            answers.add(copies == "none")
        return answers


def _outcome(held: bool) -> Outcome:
    return Outcome.HELD if held else Outcome.NOT_HELD


def _chances(figure: Figure, copies: str) -> tuple[float, float]:
    """The chance of what was said, and that of anything else; exact zeros are certain."""
    if copies == "none":
        return figure.none, figure.two + figure.one
    if copies == "some":
        return figure.two + figure.one, figure.none
    return figure.two, figure.one + figure.none
