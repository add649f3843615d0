"""What a prospect would bring to a goal and what it would mix, by what is said of it.

Nothing here is a figure of the book: a prospect is not in it. These are its seller's words, held
against the lines that the collection and its projects have.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum

from keeper.domain.saying.wording import LINE_NOT_KNOWN, claim_said
from keeper.models import Claim, GoalPart, Line, ProspectWord, Shown


class Relation(Enum):
    """How two lines stand to each other in the register."""

    SAME = "the same line"
    ONE = "one gene"
    OPEN = "not settled"
    TWO = "two genes"


@dataclass(frozen=True)
class Held:
    """How many animals here carry a line for certain, may carry it, or are in dispute about it."""

    certain: int = 0
    possible: int = 0
    disputed: int = 0

    def __bool__(self) -> bool:
        return bool(self.certain or self.possible or self.disputed)

    def __str__(self) -> str:
        if not self:
            return "nothing here carries it"
        found = [f"{self.certain} here carr{'ies' if self.certain == 1 else 'y'} it"] * bool(
            self.certain
        )
        if self.possible:
            found.append(f"{self.possible} {'' if found else 'here '}may")
        if self.disputed:
            found.append(f"{self.disputed} {'' if found else 'here '}disputed")
        return ", ".join(found)


@dataclass(frozen=True)
class Lines:
    """The lines of a species and how they stand to one another.

    Attributes:
        all: those that count, with trait and locus.
        open_pairs: ids of two lines of which nobody is sure.
        in_rules: trait id → ids of the lines in combinations that show it.
    """

    all: Sequence[Line]
    open_pairs: frozenset[frozenset[int]] = frozenset()
    in_rules: Mapping[int, set[int]] = field(default_factory=dict)

    def of(self, trait: int | None) -> list[Line]:
        """The lines of one trait."""
        return [line for line in self.all if line.trait_id == trait]

    def relation(self, one: Line, other: Line) -> Relation:
        """How two lines of one look stand to each other."""
        if one.pk == other.pk:
            return Relation.SAME
        if one.locus_id == other.locus_id:
            return Relation.ONE
        if frozenset({one.pk, other.pk}) in self.open_pairs:
            return Relation.OPEN
        return Relation.TWO

    def wanted(self, part: GoalPart) -> list[Line]:
        """The lines of which some copy serves a part of a goal."""
        if part.among:
            named_in_look = {line.pk for line in part.among}
            return [line for line in self.all if line.pk in named_in_look]
        if part.line_id is not None:
            return [line for line in self.all if line.pk == part.line_id]
        if part.trait.shown == Shown.EVERY:
            return self.of(part.trait.base_id)
        named = self.in_rules.get(part.trait_id, set())
        return [line for line in self.all if line.trait_id == part.trait_id or line.pk in named]


# --- what it would bring -----------------------------------------------------------------------


class Verdict(Enum):
    """Whether a prospect serves one part of a goal, if what is said is so."""

    BRINGS = "brings the gene"
    MAY = "may bring it"
    NOT = "does not bring it"


@dataclass(frozen=True)
class Fit:
    """One part of a goal and what is said of the prospect there."""

    part: GoalPart
    verdict: Verdict
    words: str


def fit(part: GoalPart, words: Iterable[ProspectWord], lines: Lines) -> Fit:
    """Hold what is said of a prospect against one part of a goal."""
    wanted = lines.wanted(part)
    traits = {line.trait_id for line in wanted}
    found = [_serves(word, wanted, lines) for word in words if word.trait_id in traits]
    if not found:
        return Fit(part, Verdict.NOT, "nothing is said of it")
    order = list(Verdict)
    found.sort(key=lambda one: order.index(one[0]))
    return Fit(part, found[0][0], "; ".join(text for _, text in found))


def _serves(word: ProspectWord, wanted: list[Line], lines: Lines) -> tuple[Verdict, str]:
    if word.claim == Claim.CLEAR:
        return Verdict.NOT, f"said not to carry {word.trait}"
    said = f"said to be {claim_said(word)} {named(word)}"
    sure = Verdict.MAY if word.claim == Claim.POSSIBLE else Verdict.BRINGS
    of_look = [line for line in wanted if line.trait_id == word.trait_id]
    if word.line is None:
        if len(of_look) == len(lines.of(word.trait_id)):
            return sure, said
        return Verdict.MAY, f"{said}: it serves if it is {_codes(of_look)}"
    how = {lines.relation(word.line, line): line for line in of_look}
    if Relation.SAME in how:
        return sure, said
    if Relation.ONE in how:
        other = how[Relation.ONE].code
        return Verdict.NOT, f"{said}: one gene with {other}, and yet another line of it"
    if Relation.OPEN in how:
        other = how[Relation.OPEN].code
        return Verdict.NOT, f"{said}: whether that and {other} are one gene is not settled"
    return Verdict.NOT, f"{said}: another gene than {_codes(of_look)}"


def named(word: ProspectWord) -> str:
    """Return the trait with its line: "Saltgrass HAR", "Saltgrass, line not known"."""
    return str(word.line) if word.line else f"{word.trait}, {LINE_NOT_KNOWN}"


def _codes(lines: Sequence[Line]) -> str:
    return " or ".join(line.label for line in lines)


# --- what it would mix -------------------------------------------------------------------------


@dataclass(frozen=True)
class Mix:
    """What would come of breeding a prospect to one line that is here or wanted.

    Attributes:
        other: that line; the animals that carry it are `held`, the projects that want it named.
        relation: how the prospect's line stands to it; of a line not known, the worst it may be.
        text: what that means.
    """

    word: ProspectWord
    other: Line
    held: Held
    wanted_by: tuple[str, ...]
    relation: Relation
    text: str


def mixes(
    word: ProspectWord,
    lines: Lines,
    held: Mapping[tuple[int, int | None], Held],
    wanted_by: Mapping[int, Sequence[str]],
) -> list[Mix]:
    """Return what a word would mix with, line by line, the gravest first."""
    if word.claim == Claim.CLEAR:
        return []
    found = []
    for other in lines.of(word.trait_id):
        here = held.get((other.trait_id, other.pk), Held())
        names = tuple(wanted_by.get(other.pk, ()))
        mixed = _mixed(word, other, lines) if here or names else None
        if mixed is not None:
            found.append(Mix(word, other, here, names, *mixed))
    order = list(Relation)
    return sorted(found, key=lambda one: -order.index(one.relation))


def _mixed(word: ProspectWord, other: Line, lines: Lines) -> tuple[Relation, str] | None:
    if word.line is not None:
        how = lines.relation(word.line, other)
        whose = f"{word.line} and {other}"
        return None if how == Relation.SAME else (how, f"{whose} {_meaning(word, how)}")
    possible = lines.of(word.trait_id)
    if len(possible) == 1:
        return None
    by_relation: dict[Relation, list[Line]] = {}
    for line in possible:
        by_relation.setdefault(lines.relation(line, other), []).append(line)
    if apart := by_relation.get(Relation.TWO):
        text = f"If it is {_codes(apart)}, it and {other} {_meaning(word, Relation.TWO)}"
        if unsure := by_relation.get(Relation.OPEN):
            text += f" If it is {_codes(unsure)}, that is not settled."
        return Relation.TWO, text
    if unsure := by_relation.get(Relation.OPEN):
        text = f"If it is {_codes(unsure)}, it and {other} {_meaning(word, Relation.OPEN)}"
        return Relation.OPEN, text
    return Relation.ONE, f"Whichever line it is, it and {other} {_meaning(word, Relation.ONE)}"


def _meaning(word: ProspectWord, how: Relation) -> str:
    if how == Relation.ONE:
        return "are one gene: nothing mixes, and the lines are told apart in their young."
    if how == Relation.OPEN:
        return "may be one gene or two, which is not settled: their young might carry both."
    looks = "look normal" if word.trait.shown == Shown.RECESSIVE else "not look otherwise for it"
    return f"are two genes: their young can carry both and {looks}."
