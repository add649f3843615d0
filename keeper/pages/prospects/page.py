"""What the pages of prospects show: what is said, what it would bring and mix, what to ask."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Page, Paginator

from keeper.domain.book.history import Revision, history_of
from keeper.domain.prospects import queries
from keeper.domain.prospects import questions as asking
from keeper.domain.prospects.fits import Fit, Held, Lines, Mix, Relation, Verdict, fit, mixes
from keeper.domain.register import queries as register
from keeper.domain.saying.goals import goal_words, part_words
from keeper.models import Claim, GoalPart, Project, Prospect, ProspectWord
from keeper.pages.frame.links import State

PER_PAGE = 50
_STATES = {"open": "On offer", "bought": "Bought", "gone": "Let go"}


@dataclass(frozen=True)
class ListedProspect:
    """A prospect in the list, with what is said of it."""

    prospect: Prospect
    words: list[ProspectWord]


@dataclass(frozen=True)
class ProspectList:
    """The list page."""

    rows: list[ListedProspect]
    page: "Page[Any]"
    state: str
    states: tuple[State, ...]


def prospect_list(state: str, number: str | None) -> ProspectList:
    """Return one page of a list; an unknown state means those on offer."""
    state = state if state in queries.STATES else queries.STATES[0]
    counts = queries.counts()
    page = Paginator(queries.listed(state), PER_PAGE).get_page(number)
    return ProspectList(
        rows=[ListedProspect(one, queries.said_of(one)) for one in page],
        page=page,
        state=state,
        states=tuple(
            State(key, label, counts[key], key == state) for key, label in _STATES.items()
        ),
    )


@dataclass(frozen=True)
class SaidRow:
    """What is said of one trait, and how many animals here carry the same.

    `lacking`: nothing here does, so it would be new to the collection.
    """

    word: ProspectWord
    here: Held
    lacking: bool


@dataclass(frozen=True)
class PartFit:
    """One part of a goal in words, and what the prospect is there."""

    goal: str
    fit: Fit

    @property
    def verdict(self) -> str:
        """In two or three words."""
        return self.fit.verdict.value

    @property
    def serves(self) -> bool:
        """Whether it brings the part, or may."""
        return self.fit.verdict != Verdict.NOT


@dataclass(frozen=True)
class ProjectFit:
    """A project and what a prospect is said to bring to each part of its goal."""

    project: Project
    goal: str
    parts: tuple[PartFit, ...]

    @property
    def serves(self) -> bool:
        """Whether it brings anything, or may."""
        return any(part.serves for part in self.parts)


@dataclass(frozen=True)
class MixRow:
    """What would mix, with the word for how grave it is; empty: nothing does."""

    mix: Mix

    @property
    def label(self) -> str:
        """How sure it is that something would mix."""
        match self.mix.relation:
            case Relation.TWO:
                return "Would mix" if self.mix.word.line_id else "May mix"
            case Relation.OPEN:
                return "Not settled"
            case _:
                return ""


@dataclass(frozen=True)
class ProspectPage:
    """One prospect's page, but for the figures it would have, which take longer.

    Attributes:
        said: what is said of each trait.
        projects: the open projects it would serve; `others` those for which it brings nothing.
        mixes: what it would mix with lines that are here or wanted.
        told, told_of: how many statements of its source are in the book, and of how many animals.
        questions: what to ask; `message` puts them in a letter.
    """

    prospect: Prospect
    said: tuple[SaidRow, ...]
    projects: tuple[ProjectFit, ...]
    others: tuple[Project, ...]
    mixes: tuple[MixRow, ...]
    told: int
    told_of: int
    questions: tuple[asking.Question, ...]
    revisions: list[Revision]

    @property
    def is_open(self) -> bool:
        """Whether it can still be bought or let go."""
        return not (self.prospect.is_withdrawn or self.prospect.bought_id)


def prospect_page(prospect: Prospect) -> ProspectPage:
    """Return the page of a prospect that came `with_words`."""
    words = queries.said_of(prospect)
    projects = queries.projects_for(prospect.species)
    lines = lines_known(prospect, [part for _, parts in projects for part in parts])
    held = queries.held(prospect.species, {word.trait_id for word in words})
    told_pairs = queries.pair_words_of(prospect.source)
    told, told_of = queries.statements_counted(prospect.source)
    fits = [_project(project, parts, words, lines) for project, parts in projects]
    return ProspectPage(
        prospect=prospect,
        said=tuple(_said(word, held) for word in words),
        projects=tuple(one for one in fits if one.serves),
        others=tuple(one.project for one in fits if not one.serves),
        mixes=_mixes(words, lines, held, projects),
        told=told,
        told_of=told_of,
        questions=asking.questions(prospect, words, asking.Known(lines, held, told_pairs)),
        revisions=history_of([prospect, *words]),
    )


def lines_known(prospect: Prospect, parts: Sequence[GoalPart]) -> Lines:
    """Return the lines of a prospect's species, and how they stand to one another."""
    found = queries.lines_of(prospect.species)
    pairs = register.open_pairs(found)
    combined = register.lines_combined(register.combinations(part.trait for part in parts))
    return Lines(
        found,
        frozenset(frozenset({pair.one_id, pair.other_id}) for pair in pairs),
        {trait: {line.pk for line in several} for trait, several in combined.items()},
    )


def _said(word: ProspectWord, held: dict[tuple[int, int | None], Held]) -> SaidRow:
    here = held.get((word.trait_id, word.line_id), Held())
    return SaidRow(word, here, lacking=word.claim != Claim.CLEAR and not here)


def _project(
    project: Project, parts: Sequence[GoalPart], words: Sequence[ProspectWord], lines: Lines
) -> ProjectFit:
    return ProjectFit(
        project,
        goal_words(project, parts),
        tuple(PartFit(part_words(part), fit(part, words, lines)) for part in parts),
    )


def _mixes(
    words: Sequence[ProspectWord],
    lines: Lines,
    held: dict[tuple[int, int | None], Held],
    projects: Sequence[tuple[Project, Sequence[GoalPart]]],
) -> tuple[MixRow, ...]:
    wanted_by: dict[int, list[str]] = {}
    for project, parts in projects:
        for part in parts:
            if part.line_id is not None:
                wanted_by.setdefault(part.line_id, []).append(project.name)
    return tuple(MixRow(mix) for word in words for mix in mixes(word, lines, held, wanted_by))


@dataclass(frozen=True)
class MessagePage:
    """The message to a seller: who it goes to, the questions, and a link that opens it."""

    prospect: Prospect
    questions: tuple[asking.Question, ...]
    way: asking.Way | None


def message_page(page: ProspectPage, text: str) -> MessagePage:
    """Return the page of a message with this text."""
    way = asking.way_to(page.prospect.source, page.prospect.name, text)
    return MessagePage(page.prospect, page.questions, way)
