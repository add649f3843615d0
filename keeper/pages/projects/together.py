"""Every change for a project, and every two together, compared while the page is used."""

from collections.abc import Sequence
from time import monotonic
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from keeper.domain.inference import BreedingCourse, Outlook, Unanswerable
from keeper.domain.projects import comparing
from keeper.domain.projects.outlook import Change, course_of, gathering, outlook_of
from keeper.domain.projects.queries import members_here, with_goal
from keeper.domain.season.writes import season_of
from keeper.models import Member, Project
from keeper.pages.frame.requests import require_safe, wants_part
from keeper.pages.projects.outlook import OutlookForm, gain_said, question_of
from keeper.pages.projects.page import goal_in_words

# A part is worked out for so many seconds, then what is known so far is shown.
_SECONDS = 1.5
# What gains most is listed; the rest is little, or nothing.
_LISTED = 25


@require_safe
def together(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what gains most so far; `?done=N` goes on after the first so many changes."""
    project: Project = get_object_or_404(with_goal(Project.objects.live()), pk=pk)
    members = list(members_here(project))
    course = course_of(project, members)
    asked = question_of(request)
    if asked:
        form = OutlookForm(request.GET, course=course)
        if not form.is_valid():
            return redirect(f"{reverse('projects-outlook', args=[pk])}?{asked}")
        course = form.asked()
    changes = comparing.together(project, members, course) if members else []
    context: dict[str, Any] = {
        "project": project, "goal": goal_in_words(project), "asked": asked, "members": members,
        "of": len(changes),
    }  # fmt: skip
    given = request.GET.get("done", "")
    if changes and given.isdecimal():
        done = min(int(given[:6]), len(changes))
        try:
            context |= _compared(project, members, course, changes, done)
        except Unanswerable as why:
            context["trouble"] = str(why)
    name = "projects/together.html"
    return render(request, f"{name}#compared" if wants_part(request) else name, context)


def _compared(
    project: Project,
    members: Sequence[Member],
    course: BreedingCourse,
    changes: Sequence[Change],
    done: int,
) -> dict[str, Any]:
    """Compare as many changes as the time allows after the first `done`, which are known.

    Raises:
        Unanswerable: the outlook as things are cannot be worked out.
    """
    today = timezone.localdate()
    gathered = gathering(project, (one.animal for one in members))

    def asked_of(key: str) -> Outlook:
        return outlook_of(project, members, course, today, key, gathered)

    base, until = asked_of(""), monotonic() + _SECONDS
    found: list[tuple[Change, Outlook | Unanswerable]] = []
    for change in changes:
        if len(found) > done and monotonic() > until:
            break
        try:
            found.append((change, asked_of(change.key)))
        except Unanswerable as why:
            found.append((change, why))
    rows = [
        (one.change, gain_said(base, one.outlook, season_of(today)) if one.outlook else one.trouble)
        for one in comparing.ranked(base, found)[:_LISTED]
    ]
    return {"rows": rows, "done": len(found)}
