"""Every change that could be made for a project, and every two together, one beside the other."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import combinations

from keeper.domain import inference
from keeper.domain.inference import BreedingCourse, Outlook, Unanswerable, Workers
from keeper.domain.projects.outlook import (
    AND,
    Change,
    Gain,
    changes,
    gain,
    gathering,
    question,
    tests,
)
from keeper.models import Member, Project


@dataclass(frozen=True)
class Compared:
    """A change, what it gains, and why that cannot be said where it cannot."""

    change: Change
    outlook: Outlook | None
    gain: Gain | None
    trouble: str = ""


def together(project: Project, members: Sequence[Member], course: BreedingCourse) -> list[Change]:
    """Return every change alone, and every two that can be made together, in that order."""
    alone = list(
        {
            one.key: one for one in (*changes(project, members, course), *tests(project, members))
        }.values()
    )
    both = [
        Change(f"{a.key}{AND}{b.key}", f"{a.words}; and {b.words[:1].lower()}{b.words[1:]}")
        for a, b in combinations(alone, 2)
        if _can_both(a, b, len(members))
    ]
    return alone + both


def _can_both(a: Change, b: Change, members: int) -> bool:
    """Whether two can be made: one animal is bought at most, one test made; two are left."""
    kinds = [one.key.partition("-")[0] for one in (a, b)]
    bought = sum(kind in {"female", "male", "prospect"} for kind in kinds)
    released = [one.key.partition("-")[2] for one in (a, b) if one.key.startswith("without")]
    tested = [one.key.split("-")[1] for one in (a, b) if one.key.startswith("test")]
    return (
        bought < 2 and len(tested) < 2 and not set(tested) & set(released)
        and members - len(released) >= 2
    )  # fmt: skip


def compare(
    project: Project,
    members: Sequence[Member],
    course: BreedingCourse,
    today: date,
    asked: Iterable[Change],
    *,
    workers: Workers | None = None,
    told: inference.Told = lambda done, of: None,
) -> list[Compared]:
    """Return each change with what it gains, the one that gains most first.

    All have the same random numbers, wherever they are worked out: here, or by workers, to the
    last bit.

    Raises:
        Unanswerable: the outlook as things are cannot be worked out.
        NoWorkers: they are lost, or are not of this version.
    """
    asked = list(asked)
    gathered = gathering(project, (one.animal for one in members))
    posed = [
        question(project, members, course, today, key, gathered).posed()
        for key in ("", *(one.key for one in asked))
    ]
    outlooks = []
    for one in inference.answered(posed, workers):
        outlooks.append(one)
        told(len(outlooks), len(posed))
    base, *others = outlooks
    if isinstance(base, Unanswerable):
        raise base
    return ranked(base, zip(asked, others, strict=True))


def ranked(base: Outlook, found: Iterable[tuple[Change, Outlook | Unanswerable]]) -> list[Compared]:
    """Return changes by their outlooks, the one that gains most first."""
    compared = [
        Compared(change, None, None, str(other))
        if isinstance(other, Unanswerable)
        else Compared(change, other, gain(base, other))
        for change, other in found
    ]
    return sorted(compared, key=lambda one: -one.gain.more if one.gain is not None else 1.0)
