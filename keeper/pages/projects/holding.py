"""Animals held back for a project: in, looked at again, out."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.access import account
from keeper.domain.book.ordering import newest
from keeper.domain.book.typed import row_number
from keeper.domain.projects import writes as domain
from keeper.domain.projects.queries import may_join
from keeper.models import Animal, Clutch, DaybookEntry, Member, Project
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view
from keeper.pages.projects.forms import HoldForm, HoldYoungForm, ReleaseForm, ReviewForm

# As many codes as a list under a field can help to choose from; any other can be typed.
_OFFERED = 300


@form_view
def hold(request: HttpRequest) -> HttpResponse:
    """Hold a hatchling back (`?animal=pk&project=pk`, either or both known already)."""
    animal = _asked(request, Animal, "animal")
    project = _asked(request, Project, "project")
    given = {"code": animal or "", "project": project, "since": timezone.localdate()}
    species = animal.species if animal else None
    form = HoldForm(request.POST or None, initial=given, species=species)
    if form.is_valid():
        member = form.member()
        entry = written(
            lambda: domain.join(member=member, by=account(request)), form, at={"animal": "code"}
        )
        if entry is not None:
            return after_save("projects-one", entry, pk=member.project_id)
    codes = may_join(project).order_by(newest("hatched_on"), "-pk").values_list("code", flat=True)
    context = {"form": form, "animal": animal, "project": project, "codes": codes[:_OFFERED]}
    return render(request, "projects/hold.html", context)


@form_view
def hold_young(request: HttpRequest, pk: int) -> HttpResponse:
    """Hold several hatchlings of a clutch back at once."""
    clutch = get_object_or_404(Clutch.objects.live().select_related("species"), pk=pk)
    form = HoldYoungForm(
        request.POST or None, clutch=clutch, initial={"since": timezone.localdate()}
    )
    if form.is_valid():
        members = form.members()
        entry = written(
            lambda: domain.join_all(members=members, by=account(request)),
            form,
            at={"animal": "young"},
        )
        if entry is not None:
            return after_save("projects-one", entry, pk=members[0].project_id)
    context = {"form": form, "clutch": clutch}
    return render(request, "projects/hold_young.html", context)


@form_view
def review(request: HttpRequest, pk: int) -> HttpResponse:
    """Move the day on which a holdback is looked at again."""
    member = _member(pk)
    form = ReviewForm(request.POST or None, initial={"review_on": member.review_on})
    return _step(request, member, form, "review")


@form_view
def release(request: HttpRequest, pk: int) -> HttpResponse:
    """Let an animal go from a project, with a reason."""
    member = _member(pk)
    form = ReleaseForm(request.POST or None, initial={"on": timezone.localdate()})
    return _step(request, member, form, "release")


def _step(
    request: HttpRequest, member: Member, form: ReviewForm | ReleaseForm, step: str
) -> HttpResponse:
    if form.is_valid():
        entry = written(lambda: _done(member, form, account(request)), form)
        if entry is not None:
            return after_save("projects-one", entry, pk=member.project_id)
    context = {"form": form, "member": member, "project": member.project, "step": step}
    return render(request, "projects/step.html", context)


def _done(member: Member, form: ReviewForm | ReleaseForm, by: Any) -> DaybookEntry:
    given = form.cleaned_data
    if isinstance(form, ReviewForm):
        return domain.move_review(
            member=member, review_on=given["review_on"], reason=given["reason"], by=by
        )
    return domain.release(member=member, on=given["on"], reason=given["reason"], by=by)


def _member(pk: int) -> Member:
    members = Member.objects.live().select_related("project", "animal")
    found: Member = get_object_or_404(members, pk=pk)
    return found


def _asked(request: HttpRequest, model: type[Animal] | type[Project], name: str) -> Any:
    """Return the record that the address names, or None if it names none."""
    pk = row_number(request.GET.get(name))
    if pk is None:
        return None
    return get_object_or_404(model.objects.live().select_related("species"), pk=pk)
