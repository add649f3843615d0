"""Projects, and the members of one, as tables."""

from collections.abc import Iterable

from keeper.domain.saying.wording import said
from keeper.pages.frame.files import Table
from keeper.pages.projects.page import ListedProject, MemberRow, PartStanding, ProjectPage

_PROJECTS = ("Project", "Goal", "Species", "Animals in it", "To look at now", "Closed on")
_MEMBERS = ("Code", "Name", "Sex", "Chance of carrying all", "Why", "As", "Since", "Look again")


def projects_table(rows: Iterable[ListedProject]) -> Table:
    """Return projects as they are listed."""
    return _PROJECTS, (
        [
            *(one.project.name, one.goal, one.project.species.name, one.in_it, one.due),
            one.project.closed_on.isoformat() if one.project.closed_on else "",
        ]
        for one in rows
    )


def members_table(page: ProjectPage) -> Table:
    """Return the members of a project, with how each stands in every part of its goal."""
    return (*_MEMBERS, *page.parts), (_member(row) for row in page.rows)


def _member(row: MemberRow) -> list[str]:
    member = row.member
    return [
        *(member.animal.code, member.animal.name, member.animal.get_sex_display()),
        *(row.chance or "", member.reason, "held back" if member.holdback else "breeder"),
        member.since.isoformat(),
        member.review_on.isoformat() if member.review_on else "",
        *map(_stands, row.parts),
    ]


def _stands(part: PartStanding) -> str:
    if part.itself is not None and part.itself.standing is not None:
        return said(part.itself.standing).words
    if part.shown:
        return "visual"
    carried = [
        f"{one.words}: {said(one.standing).words}" for one in part.genes if one.standing is not None
    ]
    return "; ".join(carried) or "nothing speaks for it"
