"""What the pages of projects show."""

from collections.abc import Container, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from keeper.domain import inference
from keeper.domain.projects import queries
from keeper.domain.projects.plans import PlanState, plan_states
from keeper.domain.saying.figures import percent
from keeper.domain.saying.goals import goal_words, part_words
from keeper.models import (
    Animal,
    Clutch,
    DaybookEntry,
    GoalPart,
    Member,
    Need,
    Project,
    Shown,
    Standing,
    Word,
)

EGGS = (4, 8, 16)
Standings = dict[tuple[int, int, int | None], Standing]
BEST = 20
LOG = 12


@dataclass(frozen=True)
class ListedProject:
    """A project in the list."""

    project: Project
    goal: str
    in_it: int
    due: int


def listed(*, closed: bool, today: date) -> list[ListedProject]:
    """Return the projects that are going on, or those that are closed."""
    rows: Iterable[Any] = queries.with_counts(
        queries.with_goal(queries.listed(closed=closed)), today
    )
    return [ListedProject(row, goal_in_words(row), row.in_it, row.due) for row in rows]


@dataclass(frozen=True)
class GeneStanding:
    """What an animal's standing is in a gene; none: nothing speaks for it.

    `mixed` is the standing over all lines, which says whether lines mix in it.
    """

    words: str
    standing: Standing | None
    mixed: Standing | None = None


@dataclass(frozen=True)
class PartStanding:
    """How an animal stands in one part of a goal, and in each gene that the part takes."""

    words: str
    shown: bool
    genes: tuple[GeneStanding, ...]

    @property
    def itself(self) -> GeneStanding | None:
        """Its one gene, where that is called what the part is."""
        return self.genes[0] if [one.words for one in self.genes] == [self.words] else None

    @property
    def has_genes(self) -> bool:
        """Whether anything speaks for one of its genes."""
        return any(one.standing is not None for one in self.genes)


@dataclass(frozen=True)
class MemberRow:
    """A member with its chance of carrying something for every part of the goal.

    `gone` says that it is not here any more, sold or dead; no outlook counts on it then.
    """

    member: Member
    chance: str | None
    parts: list[PartStanding]
    due: bool
    gone: str


@dataclass(frozen=True)
class ProjectPage:
    """All but the pairings, which take longer.

    `served` are holdbacks that by what is known now cannot carry all that the goal takes.
    """

    project: Project
    goal: str
    parts: list[str]
    rows: list[MemberRow]
    due: list[Member]
    released: list[Member]
    clutches: list["BredFor"]
    reached: int
    never_seen: str
    conflict: tuple[str, ...]
    pairs_possible: int
    plan: PlanState | None
    log: list[DaybookEntry]
    served: list[Member]


@dataclass(frozen=True)
class BredFor:
    """A clutch of two members and what came of it."""

    clutch: Clutch
    sires: str
    hatched: int
    kept_back: int


def goal_in_words(project: Project) -> str:
    """Say the goal of a project that came with it."""
    return goal_words(project, queries.own_parts(project), queries.looks_wanted(project))


def project_page(project: Project, today: date) -> ProjectPage:
    """Return the page of a project that came with its goal."""
    parts = queries.goal_of(project)
    members = list(queries.members_now(project))
    chances, conflict = _chances(project, [member.animal for member in members])
    genes = queries.genes_of(parts)
    standings = queries.goal_standings(genes, [member.animal_id for member in members])
    shown = queries.shown_by(parts, [member.animal_id for member in members])
    members.sort(key=lambda one: -chances.get(one.animal_id, 0.0))
    rows = [
        _row(member, chances, list(zip(parts, genes, strict=True)), standings, shown, today)
        for member in members
    ]
    return ProjectPage(
        project=project,
        goal=goal_in_words(project),
        never_seen=inference.goal_never_seen(project),
        parts=[part_words(part) for part in parts],
        rows=rows,
        due=[row.member for row in rows if row.due],
        released=list(queries.members_released(project)),
        clutches=[_bred(clutch) for clutch in queries.bred_for(project)],
        reached=sum(
            is_what_is_wanted(project, parts, one.animal, standings, shown) for one in members
        ),
        conflict=conflict,
        pairs_possible=len(queries.pairs_of(one.animal for one in members if queries.is_here(one))),
        plan=plan_states([project], today).get(project.pk),
        log=list(queries.log_of(project, LOG)),
        served=[one for one in members if one.holdback and chances.get(one.animal_id) == 0.0],
    )


def _chances(project: Project, animals: list[Animal]) -> tuple[dict[int, float], tuple[str, ...]]:
    if not animals:
        return {}, ()
    try:
        return inference.goal_chances(project, animals), ()
    except inference.Unanswerable as error:
        return {}, (str(error),)


def is_what_is_wanted(
    project: Project,
    parts: list[GoalPart],
    animal: Animal,
    standings: Standings,
    shown: Container[queries.Shown] = (),
) -> bool:
    """Whether an animal certainly meets every part of the goal, and is of the sex wanted."""
    of_the_sex = project.sex in {"unknown", animal.sex}
    return of_the_sex and all(_meets(part, animal, standings, shown) for part in parts)


def _meets(
    part: GoalPart, animal: Animal, standings: Standings, shown: Container[queries.Shown]
) -> bool:
    if part.of_look is not None:
        return (animal.pk, queries.look_key(part.of_look)) in shown
    if part.need == Need.SHOWS and part.trait.shown in {Shown.RULES, Shown.EVERY}:
        # What was seen, or is certain, is what there is: hardly ever has it lines of its own.
        return (animal.pk, part.trait_id) in shown
    whole = standings.get((animal.pk, part.trait_id, None))
    own = standings.get((animal.pk, part.trait_id, part.line_id))
    if whole is None or own is None or whole.is_disputed or own.is_disputed:
        return False
    certain, doubled = own.none == 0, own.none == 0 and own.one == 0
    match part.need:
        case Need.CARRIES:
            return certain
        case Need.TWO:
            return doubled
        case _:
            takes_two = part.trait.shown == Shown.RECESSIVE
            of_the_line = part.line_id is None or (doubled if takes_two else certain)
            return whole.word == Word.VISUAL and of_the_line


def _row(
    member: Member,
    chances: dict[int, float],
    parts: list[tuple[GoalPart, tuple[queries.Gene, ...]]],
    standings: Standings,
    shown: Container[queries.Shown],
    today: date,
) -> MemberRow:
    pk = member.animal_id
    chance = chances.get(pk)
    return MemberRow(
        member=member,
        chance=None if chance is None else percent(chance),
        parts=[
            PartStanding(
                str(part.line or part.trait),
                (pk, part.trait_id) in shown,
                tuple(
                    GeneStanding(
                        gene.words,
                        standings.get((pk, gene.trait, gene.line)),
                        standings.get((pk, gene.trait, None)),
                    )
                    for gene in genes
                ),
            )
            for part, genes in parts
        ],
        due=member.review_on is not None and member.review_on <= today,
        gone="" if queries.is_here(member) else member.animal.get_status_display(),
    )


def _bred(clutch: Any) -> BredFor:
    sires = [str(one) for one in clutch.candidates.all() if not one.is_withdrawn]
    rows = [row.count for row in clutch.hatch_rows.all() if not row.is_withdrawn]
    return BredFor(clutch, " or ".join(sires), sum(rows), clutch.kept_back)
