"""Every change that could be made for a project, and every two together, one beside the other."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from itertools import combinations
from typing import Any

from keeper.domain import inference
from keeper.domain.background import jobs
from keeper.domain.background.kinds import COMPARISON, Tell
from keeper.domain.book.daybook import moment
from keeper.domain.book.refusing import Refused
from keeper.domain.inference import BreedingCourse, Outlook, Unanswerable, Workers
from keeper.domain.projects.outlook import (
    AND,
    Change,
    Gain,
    changes,
    gain,
    gathering,
    outlook_of,
    question,
    tests,
)
from keeper.domain.projects.queries import members_here, with_goal
from keeper.domain.season.writes import season_of
from keeper.models import Job, Member, Project


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
    return sorted(compared, key=lambda one: _place(one.gain))


def _place(found: Gain | str | None) -> float:
    """Where a change stands by its gain, the most first; one without stands last."""
    return -found.more if isinstance(found, Gain) else 1.0


_DOING = "Changes are compared"


@dataclass(frozen=True)
class Comparison:
    """A comparison that is made in the background: of which project, how it goes on, as of when."""

    project: Project
    members: Sequence[Member]
    course: BreedingCourse
    today: date

    @property
    def about(self) -> str:
        """Its name: another as soon as anything is written that it may rest on."""
        who = sorted(one.animal_id for one in self.members)
        rests_on = repr((moment(), season_of(self.today), asdict(self.course), who))
        return f"{self.project.pk}-{hashlib.sha256(rests_on.encode()).hexdigest()[:24]}"

    def last(self) -> Job | None:
        """Return the job that makes it, or has made it."""
        return jobs.last(COMPARISON, self.about)

    def begin(self) -> Job:
        """Begin it. Raises `Refused` if it is being made."""
        given = {
            "project": self.project.pk,
            "about": self.about,
            "course": asdict(self.course),
            "today": self.today.isoformat(),
        }
        return jobs.begin(COMPARISON, about=self.about, given=given)

    def every(self) -> list[Change]:
        """Return what is compared."""
        return together(self.project, self.members, self.course)


@dataclass(frozen=True)
class SoFar:
    """What a comparison has found: by the key of each change its gain, or why there is none.

    Attributes:
        median: the season in which the goal is as likely as not, as things are.
    """

    median: int | None
    gains: dict[str, Gain | str]

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON has it; in a list, for not every database keeps the order of names."""
        gains = [
            [key, one if isinstance(one, str) else asdict(one)] for key, one in self.gains.items()
        ]
        return {"median": self.median, "gains": gains}

    @classmethod
    def of(cls, said: dict[str, Any]) -> "SoFar":
        """Return what was said."""
        gains = {
            key: one if isinstance(one, str) else Gain(**one) for key, one in said.get("gains", [])
        }
        return cls(said.get("median"), gains)

    def in_order(self) -> list[tuple[str, Gain | str]]:
        """Return the changes by their keys, the one that gains most first."""
        return sorted(self.gains.items(), key=lambda one: _place(one[1]))


def work(given: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """Make a comparison, change by change.

    Raises:
        Refused: something was written since, so it would be of a book that is no more.
    """
    project: Project = with_goal(Project.objects.live()).get(pk=given["project"])
    asked = Comparison(
        project,
        list(members_here(project)),
        BreedingCourse(**given["course"]),
        date.fromisoformat(given["today"]),
    )
    gathered = gathering(project, (one.animal for one in asked.members))

    def outlook(key: str) -> Outlook:
        if asked.about != given["about"]:
            raise Refused("The book was written in while this was compared. Compare them anew.")
        return outlook_of(project, asked.members, asked.course, asked.today, key, gathered)

    try:
        base = outlook("")
    except Unanswerable as why:
        return {"trouble": str(why)}
    so_far, every = SoFar(base.median, {}), asked.every()
    for change in every:
        tell(_DOING, len(so_far.gains), len(every), so_far.as_json())
        try:
            so_far.gains[change.key] = gain(base, outlook(change.key))
        except Unanswerable as why:
            so_far.gains[change.key] = str(why)
    return so_far.as_json()
