"""Projects: their goals, who is held back for them, and when that is looked at again."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError
from django.utils.formats import date_format

from keeper.domain import inference
from keeper.domain.book.writing import Refused, Writing, about, writing
from keeper.models import (
    GONE,
    Account,
    Animal,
    DaybookEntry,
    GoalLook,
    GoalPart,
    Line,
    Member,
    NamedLook,
    Project,
    Trait,
)


@dataclass(frozen=True)
class Requirement:
    """One thing that an animal must be to reach a goal; no line: any line of the trait."""

    trait: Trait
    line: Line | None
    need: str


# What a goal asks for: a gene, or a named look that must be shown.
Wanted = Requirement | NamedLook


def start_project(*, project: Project, parts: Sequence[Wanted], by: Account) -> DaybookEntry:
    """Write down a new project with its goal.

    Raises:
        ValidationError: the project or a part of its goal is not in order, or there is no goal.
    """
    _has_goal(parts)
    with writing(by=by, what=f"Began the project {project.name}") as book:
        book.keep(project)
        about(book.entry, project)
        _set_goal(book, project, parts)
    return book.entry


def change_project(
    *, project: Project, parts: Sequence[Wanted], by: Account, reason: str = ""
) -> DaybookEntry:
    """Keep a changed project; parts that its goal no longer has are withdrawn.

    Raises:
        ValidationError: the project or a part of its goal is not in order, or there is no goal.
    """
    _has_goal(parts)
    what = f"Changed the project {project.name}"
    with writing(by=by, what=what, reason=reason, subject=project) as book:
        book.refuse_overtaken(project)
        book.keep(project)
        _set_goal(book, project, parts)
    return book.entry


def close_project(*, project: Project, on: date, reason: str, by: Account) -> DaybookEntry:
    """Close a project; its members stay as they are.

    Raises:
        Refused: it is closed already.
    """
    what = f"Closed the project {project.name}"
    with writing(by=by, what=what, reason=reason, subject=project) as book:
        if book.now(project).closed_on is not None:
            raise Refused(f"{project} was closed already. Reopen it to change it.")
        project.closed_on = on
        book.keep(project)
    return book.entry


def reopen_project(*, project: Project, reason: str, by: Account) -> DaybookEntry:
    """Open a closed project again.

    Raises:
        Refused: it is open.
    """
    what = f"Reopened the project {project.name}"
    with writing(by=by, what=what, reason=reason, subject=project) as book:
        if book.now(project).closed_on is None:
            raise Refused(f"{project} is open already: nothing is left to do.")
        project.closed_on = None
        book.keep(project)
    return book.entry


def join(*, member: Member, by: Account) -> DaybookEntry:
    """Hold a hatchling back for a project, or take a breeder into it.

    Raises:
        Refused: the project is closed, or the animal is not here to be held back.
        ValidationError: no reason or review date, another species, or it is in it already.
    """
    project, animal = member.project, member.animal
    kind = "Held back" if member.holdback else "Took in"
    what = f"{kind} {animal.code} for {project.name}"
    if not member.holdback:
        member.review_on = None
    with writing(by=by, what=what, reason=member.reason) as book:
        if book.now(project).closed_on is not None:
            raise Refused(f"{project} is closed. Reopen it first.")
        _is_here(book.now(animal))
        book.keep(member)
        about(book.entry, project)
    return book.entry


def join_all(*, members: Sequence[Member], by: Account) -> DaybookEntry:
    """Hold several animals back for one project, in one entry, for the same reason.

    Raises:
        Refused: nobody is named, the project is closed, or an animal is not here.
        ValidationError: no reason or review date, another species, or one is in it already.
    """
    if not members:
        raise Refused("Choose at least one.")
    project, reason = members[0].project, members[0].reason
    codes = ", ".join(one.animal.code for one in members)
    with writing(by=by, what=f"Held back for {project.name}: {codes}", reason=reason) as book:
        if book.now(project).closed_on is not None:
            raise Refused(f"{project} is closed. Reopen it first.")
        for member in members:
            _is_here(book.now(member.animal))
            book.keep(member)
        about(book.entry, project)
    return book.entry


def move_review(*, member: Member, review_on: date, reason: str, by: Account) -> DaybookEntry:
    """Look at a holdback again on another day.

    Raises:
        Refused: it was released.
    """
    member.review_on = review_on
    what = f"Moved the review of {member.animal.code} to {date_format(review_on, 'j F Y')}"
    return _change(member, what, reason, by)


def release(*, member: Member, on: date, reason: str, by: Account) -> DaybookEntry:
    """Let an animal go from a project; the record of why it was in it stays.

    Raises:
        Refused: it was released already.
        ValidationError: it is released before it came in.
    """
    if on < member.since:
        raise ValidationError(
            {
                "on": (
                    f"It came in on {date_format(member.since, 'j F Y')}. "
                    "Choose that day or a later one."
                )
            }
        )
    member.released_on = on
    member.release_reason = reason
    return _change(member, f"Released {member.animal.code} from {member.project}", reason, by)


def _change(member: Member, what: str, reason: str, by: Account) -> DaybookEntry:
    with writing(by=by, what=what, reason=reason, subject=member.project) as book:
        _is_member(book.now(member))
        book.keep(member)
    return book.entry


def _is_member(member: Member) -> None:
    if member.released_on is not None or member.is_withdrawn:
        raise Refused(
            f"{member.animal} is not in {member.project} any more. Take it in again first."
        )


def _is_here(animal: Animal) -> None:
    if animal.is_withdrawn:
        raise Refused(f"The record of {animal} was withdrawn. Restore it first.")
    if animal.status in GONE:
        raise Refused(f"{animal} is not here: {animal.get_status_display()}. Choose one that is.")


def _has_goal(parts: Sequence[Wanted]) -> None:
    if not parts:
        raise ValidationError("Say what the animal must show or carry: at least one part.")
    genes = [_of(part) for part in parts]
    if len(set(genes)) < len(genes):
        raise ValidationError("One gene stands in the goal twice. Take one of the two out.")


def _of(part: Wanted) -> tuple[int | None, int | None, int | None]:
    if isinstance(part, NamedLook):
        return None, None, part.pk
    return part.trait.pk, part.line.pk if part.line else None, None


def _set_goal(book: Writing, project: Project, wanted: Sequence[Wanted]) -> None:
    """Keep what is new in the goal and withdraw what is no longer in it.

    Raises:
        ValidationError: no animal can show all that is to be seen.
    """
    _set_looks(book, project, {one.pk: one for one in wanted if isinstance(one, NamedLook)})
    _set_parts(book, project, [one for one in wanted if isinstance(one, Requirement)])
    hindrance = inference.goal_never_seen(project)
    if hindrance:
        raise ValidationError(f"No animal can reach this goal: change a part of it. {hindrance}")


def _set_looks(book: Writing, project: Project, wanted: dict[int, NamedLook]) -> None:
    for old in GoalLook.objects.live().filter(project=project):
        if wanted.pop(old.look_id, None) is None:
            book.withdraw(old, reason=book.entry.reason or "no longer part of the goal")
    for look in wanted.values():
        book.keep(GoalLook(project=project, look=look))


def _set_parts(book: Writing, project: Project, parts: Sequence[Requirement]) -> None:
    wanted = {
        (part.trait.pk, part.line.pk if part.line else None, part.need): part for part in parts
    }
    for old in GoalPart.objects.live().filter(project=project):
        if wanted.pop((old.trait_id, old.line_id, old.need), None) is None:
            book.withdraw(old, reason=book.entry.reason or "no longer part of the goal")
    for part in wanted.values():
        book.keep(GoalPart(project=project, trait=part.trait, line=part.line, need=part.need))
