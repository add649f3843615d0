"""Hatch day, and records for hatchlings of a tally."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from keeper.access import account
from keeper.domain.clutches import hatching as domain
from keeper.domain.clutches.hatch_plan import hatch_plan
from keeper.domain.clutches.queries import free_codes, row_of
from keeper.domain.lines.mixing import mixed_in
from keeper.pages.clutches.hatch_forms import HatchForm, RecordForm
from keeper.pages.clutches.views import clutch_or_404
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view


@form_view
def hatch(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what hatched."""
    clutch = clutch_or_404(pk)
    plan = hatch_plan(clutch, request.POST)
    # A clutch that is logged already says itself how far one looked.
    initial = {} if plan.rows else {"scope": request.session.get("look_scope")}
    initial["record_all"] = request.session.get("record_all", False)
    form = HatchForm(request.POST or None, clutch=clutch, plan=plan, initial=initial)
    if request.method == "POST" and form.is_valid():
        request.session["look_scope"] = form.cleaned_data["scope"]
        request.session["record_all"] = form.cleaned_data["record_all"]
        entry = written(
            lambda: domain.log_hatch(
                clutch=clutch,
                hatch=form.cleaned_data["hatch"],
                reason=form.cleaned_data["reason"],
                by=account(request),
            ),
            form,
        )
        if entry is not None:
            return after_save("clutches-one", entry, pk=pk)
    context = {
        "form": form,
        "plan": plan,
        "mixed": mixed_in(plan.mixing),
        "clutch": clutch_or_404(pk),
    }
    return render(request, "clutches/hatch.html", context)


@form_view
def record(request: HttpRequest, pk: int) -> HttpResponse:
    """Give one hatchling of a tally a record of its own."""
    row = get_object_or_404(row_of(pk))
    initial = {
        "code": free_codes(row.clutch, 1)[0],
        "hatched_on": row.clutch.hatched_on,
        "sex": row.sex,
    }
    form = RecordForm(request.POST or None, row=row, initial=initial)
    if request.method == "POST" and form.is_valid():
        animal = form.save(commit=False)
        entry = written(
            lambda: domain.record_hatchling(row=row, animal=animal, by=account(request)), form
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=animal.pk)
    return render(request, "clutches/record.html", {"form": form, "row": row})
