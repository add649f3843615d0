"""The way chosen for a project: kept as a plan, given up, and where each of its steps stands."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import QuerySet

from keeper.domain.book.writing import Refused, Writing, about, writing
from keeper.domain.clutches.queries import with_parents
from keeper.domain.inference import Way, WayParent, WayStep
from keeper.domain.saying.figures import percent
from keeper.models import (
    GONE,
    Account,
    Animal,
    Clutch,
    DaybookEntry,
    Member,
    Plan,
    PlannedPairing,
    PlanStep,
    Project,
    Sex,
)

WAITING, READY, BRED, KEPT = "waiting", "ready", "bred", "kept"


_WHO = {"female": "a female", "male": "a male", "both": "one of each sex", "any": "one"}


def way_words(step: WayStep) -> str:
    """Return what a step of a way keeps, in words."""
    if step.last:
        return f"the goal: {_WHO[step.sex]} that meets it"
    shown = [name for name, seen in step.shows.items() if seen]
    hidden = [name for name, seen in step.shows.items() if not seen]
    who = _WHO[step.sex]
    if not step.shows:
        return f"{who}, of any look"
    looks = f"showing {' and '.join(shown)}" if shown else "that shows none of it"
    without = f", not {' nor '.join(hidden)}" if shown and hidden else ""
    return f"{who} {looks}{without}"


def clutch_said(chance: float, clutch: float, sex: str) -> str:
    """Return the chance that a clutch gives what a step keeps: certain only if all young are it."""
    return percent(clutch, certain=chance >= 1 and sex == "any")


def choose_way(
    *, project: Project, way: Way, on: date, eggs: int, words: Mapping[int, str], by: Account
) -> DaybookEntry:
    """Make a way the project's plan; a plan that it has is given up for it.

    `words` says of each step, by number, what is kept.

    Raises:
        Refused: the project is closed, an animal of the way is not here, or one has to be bought.
    """
    with writing(by=by, what=f"Chose a way for {project}", subject=project) as book:
        if book.now(project).closed_on is not None:
            raise Refused(f"{project} is closed. Reopen it first.")
        for old in _plans(project):
            _withdraw(book, old, "another way was chosen")
        plan = book.keep(Plan(project=project, chosen_on=on, eggs=eggs, seasons=way.seasons))
        kept: dict[int, PlanStep] = {}
        for step in way.steps:
            row = _step(plan, step, words[step.number], kept)
            for animal in (row.dam, row.sire):
                if animal is not None:
                    _is_here(book.now(animal))
            kept[step.number] = book.keep(row)
        about(book.entry, project)
    return book.entry


def give_up_plan(*, plan: Plan, reason: str, by: Account) -> DaybookEntry:
    """Give a plan up; the project stays as it is.

    Raises:
        Refused: it was given up already.
    """
    what = f"Gave up the plan of {plan.project}"
    with writing(by=by, what=what, reason=reason, subject=plan.project) as book:
        if book.now(plan).is_withdrawn:
            raise Refused("This plan was given up already. Nothing is left to do.")
        _withdraw(book, plan, reason)
    return book.entry


def _withdraw(book: Writing, plan: Plan, reason: str) -> None:
    for step in PlanStep.objects.live().filter(plan=plan).order_by("-number"):
        book.withdraw(step, reason=reason)
    book.withdraw(plan, reason=reason)


def _step(plan: Plan, step: WayStep, words: str, kept: Mapping[int, PlanStep]) -> PlanStep:
    def parent(one: WayParent) -> tuple[Animal | None, PlanStep | None]:
        if one.step is not None:
            return None, kept[one.step]
        animal = None if one.animal is None else Animal.objects.filter(pk=one.animal).first()
        if animal is None:
            raise Refused(
                "An animal of this way is not in the book. Add it first, then look again."
            )
        return animal, None

    (dam, dam_of), (sire, sire_of) = parent(step.dam), parent(step.sire)
    return PlanStep(
        plan=plan, number=step.number, generation=step.generation,
        dam=dam, dam_of=dam_of, sire=sire, sire_of=sire_of,
        keeps=words[:300], sex=step.sex, chance=step.chance, clutch_chance=step.clutch,
        known=step.known,
    )  # fmt: skip


def _is_here(animal: Animal) -> None:
    if animal.is_withdrawn:
        raise Refused(f"The record of {animal} was withdrawn. Restore it first.")
    if animal.status in GONE:
        raise Refused(f"{animal} is not here: {animal.get_status_display()}. Choose another way.")


def _plans(project: Project) -> QuerySet[Plan]:
    rows: QuerySet[Plan] = Plan.objects.live().filter(project=project)
    return rows


@dataclass
class StepState:
    """Where a step of a plan stands.

    Attributes:
        state: waiting for an earlier step or for age, ready to be bred, bred, or its young kept.
        dams, sires: the animals that may be its parents now.
        clutches: what came of it since the plan was chosen; `young`: what of these is held back.
        waits_for: what it waits for, in words; empty if for nothing.
    """

    step: PlanStep
    state: str = WAITING
    dams: list[Animal] = field(default_factory=list)
    sires: list[Animal] = field(default_factory=list)
    clutches: list[Clutch] = field(default_factory=list)
    young: list[Animal] = field(default_factory=list)
    waits_for: str = ""

    @property
    def clutch_chance(self) -> str:
        """The chance that a clutch gives what it keeps, in words."""
        return clutch_said(self.step.chance, self.step.clutch_chance, self.step.sex)


@dataclass(frozen=True)
class PlanState:
    """A plan and where each of its steps stands."""

    plan: Plan
    steps: list[StepState]

    @property
    def ready(self) -> list[StepState]:
        """The steps that can be bred now."""
        return [one for one in self.steps if one.state == READY]


def plan_states(projects: Sequence[Project], today: date) -> dict[int, PlanState]:
    """Return the plans of projects by project, each step with where it stands.

    The queries do not grow with the plans.
    """
    plans = {
        one.project_id: one
        for one in Plan.objects.live().filter(project__in=projects).select_related("project")
    }
    steps: dict[int, list[PlanStep]] = defaultdict(list)
    rows = PlanStep.objects.live().filter(plan__in=plans.values())
    parents = ("dam__species", "sire__species", "dam_of", "sire_of", "plan__project")
    for row in rows.select_related(*parents).order_by("number"):
        steps[row.plan_id].append(row)
    members: dict[int, list[Animal]] = defaultdict(list)
    held = Member.objects.live().filter(project__in=plans, released_on=None)
    for one in held.select_related("animal__species").order_by("animal__code"):
        if one.animal.status not in GONE and not one.animal.is_withdrawn:
            members[one.project_id].append(one.animal)
    dams = {row.dam_id for each in steps.values() for row in each} | {
        animal.pk for each in members.values() for animal in each
    }
    clutches = list(
        with_parents(Clutch.objects.live().filter(dam__in=dams - {None})).order_by("laid_on", "pk")
    )
    return {
        project: _state(plan, steps[plan.pk], members[project], clutches, today)
        for project, plan in plans.items()
    }


def steps_ready(today: date) -> list[StepState]:
    """Return the steps of all plans that can be bred and are not planned for a season yet."""
    going = Plan.objects.live().filter(project__closed_on=None, project__withdrawn_at=None)
    projects = [one.project for one in going.select_related("project")]
    if not projects:
        return []
    ready = [one for state in plan_states(projects, today).values() for one in state.ready]
    dams = {dam.pk for one in ready for dam in one.dams}
    planned = set(
        PlannedPairing.objects.live()
        .filter(season__gte=today.year, dam__in=dams)
        .values_list("dam_id", "sire_id")
    )
    return [
        one
        for one in ready
        if not planned & {(dam.pk, sire.pk) for dam in one.dams for sire in one.sires}
    ]


def _state(
    plan: Plan,
    steps: Sequence[PlanStep],
    members: Sequence[Animal],
    clutches: Sequence[Clutch],
    today: date,
) -> PlanState:
    found: dict[int, StepState] = {}
    for step in steps:
        one = StepState(step)
        one.dams = _parents(step.dam, step.dam_of_id, Sex.FEMALE, found)
        one.sires = _parents(step.sire, step.sire_of_id, Sex.MALE, found)
        dams, sires = {each.pk for each in one.dams}, {each.pk for each in one.sires}
        one.clutches = [
            clutch
            for clutch in clutches
            if clutch.dam_id in dams
            and _since(clutch, plan.chosen_on)
            and sires & {each.sire_id for each in clutch.candidates.all()}
        ]
        own = {clutch.pk for clutch in one.clutches}
        one.young = [animal for animal in members if animal.clutch_id in own]
        _tell(one, found, today)
        found[step.pk] = one
    return PlanState(plan, list(found.values()))


def _parents(
    animal: Animal | None, step: int | None, sex: str, found: Mapping[int, StepState]
) -> list[Animal]:
    if animal is not None:
        here = animal.status not in GONE and not animal.is_withdrawn
        return [animal] if here else []
    if step is None or step not in found:
        return []
    return [one for one in found[step].young if one.sex == sex]


def _since(clutch: Clutch, day: date) -> bool:
    """Whether a clutch was laid after a plan was chosen; one not laid yet counts."""
    laid = clutch.laid_on or clutch.hatched_on
    return laid is None or laid >= day


def _tell(one: StepState, found: Mapping[int, StepState], today: date) -> None:
    wanted = {"female": {Sex.FEMALE}, "male": {Sex.MALE}, "both": {Sex.FEMALE, Sex.MALE}}
    sexes = {animal.sex for animal in one.young}
    if one.young and wanted.get(one.step.sex, set()) <= sexes:
        one.state = KEPT
    elif one.clutches:
        one.state = BRED
    elif not one.dams or not one.sires:
        one.waits_for = _missing(one, found)
    else:
        young = [each for side in (one.dams, one.sires) for each in _growing(side, today)]
        if young:
            first = max(each.breeds_from for each in young if each.breeds_from is not None)
            one.waits_for = f"{', '.join(each.code for each in young)} to grow, {first:%Y}"
        else:
            one.state = READY


def _growing(side: Sequence[Animal], today: date) -> list[Animal]:
    """The one of a side that is grown first, if none is grown yet."""
    ready = [one for one in side if one.breeds_from is None or one.breeds_from <= today]
    if ready:
        return []
    return [min(side, key=lambda one: one.breeds_from or today)]


def _missing(one: StepState, found: Mapping[int, StepState]) -> str:
    words = []
    for animal, step, side in (
        (one.step.dam, one.step.dam_of_id, one.dams),
        (one.step.sire, one.step.sire_of_id, one.sires),
    ):
        if side:
            continue
        if animal is not None:
            words.append(f"{animal.code}, which is not here")
        elif step is not None and step in found:
            words.append(f"what step {found[step].step.number} keeps")
    return " and ".join(words)
