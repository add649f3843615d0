"""Every change for a project, and every two together, compared while the page is used or left."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from keeper.domain.background import jobs
from keeper.domain.book.refusing import Refused
from keeper.domain.projects.comparing import Comparison, SoFar
from keeper.domain.projects.outlook import course_of
from keeper.domain.projects.queries import members_here, with_goal
from keeper.domain.season.writes import season_of
from keeper.models import Job, Project
from keeper.pages.frame.requests import require_safe, wants_part
from keeper.pages.projects.outlook import OutlookForm, gain_in_words, question_of
from keeper.pages.projects.page import goal_in_words

# What gains most is listed; the rest is little, or nothing.
_LISTED = 25


@require_safe
def together(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what gains most so far; `?done` begins the comparison, `?again` once more."""
    project: Project = get_object_or_404(with_goal(Project.objects.live()), pk=pk)
    members = list(members_here(project))
    course = course_of(project, members)
    asked = question_of(request)
    if asked:
        form = OutlookForm(request.GET, course=course)
        if not form.is_valid():
            return redirect(f"{reverse('projects-outlook', args=[pk])}?{asked}")
        course = form.asked()
    comparison = Comparison(project, members, course, timezone.localdate())
    changes = comparison.every() if members else []
    context: dict[str, Any] = {
        "project": project, "goal": goal_in_words(project), "asked": asked, "members": members,
        "of": len(changes),
    }  # fmt: skip
    if changes and (job := _job(comparison, request)) is not None:
        context |= _compared(comparison, job, {one.key: one.words for one in changes})
    name = "projects/together.html"
    return render(request, f"{name}#compared" if wants_part(request) else name, context)


def _job(comparison: Comparison, request: HttpRequest) -> Job | None:
    """Return the job that makes the comparison, begun if that is asked; None: nobody asked."""
    job = comparison.last()
    if job is not None:
        jobs.settle(job)
    again = "again" in request.GET and job is not None and not job.is_under_way
    if again or ("done" in request.GET and job is None):
        try:
            return comparison.begin()
        except Refused:  # by somebody else, this moment
            return comparison.last()
    return job


def _compared(comparison: Comparison, job: Job, words: dict[str, str]) -> dict[str, Any]:
    """Return what is known so far, and how far that is."""
    progress = jobs.look(job)
    found = progress.found if progress is not None else job.found
    so_far, first = SoFar.of(found), season_of(comparison.today)
    rows = [
        (words[key], one if isinstance(one, str) else gain_in_words(one, so_far.median, first))
        for key, one in so_far.in_order()
        if key in words
    ]
    return {
        "rows": rows[:_LISTED],
        "done": len(rows),
        "progress": progress,
        "trouble": "" if progress else found.get("trouble", "") or job.problem,
    }
