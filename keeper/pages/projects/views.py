"""Projects: the list, a project's page, its goal."""

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.access import account
from keeper.domain.projects import writes as domain
from keeper.domain.projects.queries import looks_wanted, own_parts, with_goal
from keeper.models import DaybookEntry, Project
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view, require_safe, wants_part
from keeper.pages.projects.forms import GoalForm, ProjectForm
from keeper.pages.projects.page import listed, project_page
from keeper.pages.projects.pairs import pairs
from keeper.pages.projects.table import members_table, projects_table


@require_safe
def project_list(request: HttpRequest) -> HttpResponseBase:
    """List the projects that are going on, or with `?closed=1` those that are closed."""
    closed = request.GET.get("closed") == "1"
    rows = listed(closed=closed, today=timezone.localdate())
    if wants_file(request):
        return csv_file("projects", projects_table(rows))
    return render(request, "projects/list.html", {"rows": rows, "closed": closed})


@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Show a project; `?pairs=best` or `?pairs=all` works out what its pairings give."""
    project = _project(pk)
    asked = request.GET.get("pairs")
    found = pairs(project, everything=asked == "all") if asked in {"best", "all"} else None
    if found and wants_part(request):
        return render(request, "projects/one.html#pairs", {"project": project, "pairs": found})
    page = project_page(project, timezone.localdate())
    if wants_file(request):
        return csv_file("members", members_table(page))
    context = {"page": page, "project": project, "pairs": found, "moved": just_moved(request)}
    return render(request, "projects/one.html", context)


@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Begin a project."""
    return _edit(request, None)


@form_view
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a project and its goal."""
    return _edit(request, _project(pk))


def _edit(request: HttpRequest, project: Project | None) -> HttpResponse:
    parts = own_parts(project) if project else None
    goal = GoalForm(
        request.POST or None, parts=parts, looks=looks_wanted(project) if project else ()
    )
    if "more" in request.POST:
        # One more row: nothing is checked yet and nothing typed is lost.
        form = ProjectForm(instance=project, initial=request.POST.dict())
    else:
        form = ProjectForm(request.POST or None, instance=project)
        entry = _kept(request, form, goal, project)
        if entry is not None:
            return after_save("projects-one", entry, pk=form.instance.pk)
    return render(
        request, "projects/edit.html", {"form": form, "goal": goal.formset, "project": project}
    )


def _kept(
    request: HttpRequest, form: ProjectForm, goal: GoalForm, project: Project | None
) -> DaybookEntry | None:
    if not (form.is_valid() and goal.is_valid()):
        return None
    by, parts, one = account(request), goal.parts(), form.instance
    if project is None:
        return written(lambda: domain.start_project(project=one, parts=parts, by=by), form)
    reason = form.cleaned_data["reason"]
    return written(
        lambda: domain.change_project(project=one, parts=parts, by=by, reason=reason), form
    )


@form_view
def close(request: HttpRequest, pk: int) -> HttpResponse:
    """Close a project with a reason."""
    project = _project(pk)
    return _with_reason(request, project, "close")


@form_view
def reopen(request: HttpRequest, pk: int) -> HttpResponse:
    """Open a closed project again with a reason."""
    project = _project(pk)
    return _with_reason(request, project, "reopen")


def _with_reason(request: HttpRequest, project: Project, step: str) -> HttpResponse:
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        reason, by = form.cleaned_data["reason"], account(request)
        if step == "close":
            today = timezone.localdate()
            entry = written(
                lambda: domain.close_project(project=project, on=today, reason=reason, by=by), form
            )
        else:
            entry = written(
                lambda: domain.reopen_project(project=project, reason=reason, by=by), form
            )
        if entry is not None:
            return after_save("projects-one", entry, pk=project.pk)
    context = {"form": form, "project": project, "step": step}
    return render(request, "projects/step.html", context)


def _project(pk: int) -> Project:
    found: Project = get_object_or_404(with_goal(Project.objects.live()), pk=pk)
    return found
