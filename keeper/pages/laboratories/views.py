"""Laboratories in the register, and their results on an animal."""

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from keeper.access import account
from keeper.domain.laboratories import writes
from keeper.models import Animal, Laboratory, LabTest
from keeper.pages.frame.editing import Editing, edited, section
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written, written_at_once
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.laboratories.forms import CAUTION, CorrectResultForm, LaboratoryForm, ResultForm
from keeper.pages.laboratories.page import laboratory_page, listed
from keeper.pages.laboratories.table import laboratories_table


@require_safe
def laboratories(request: HttpRequest) -> HttpResponseBase:
    """List the laboratories with their rates."""
    if wants_file(request):
        return csv_file("laboratories", laboratories_table())
    context = {
        "laboratories": listed(),
        "withdrawn": list(Laboratory.objects.withdrawn().order_by("name")),
        "moved": just_moved(request),
    }
    return render(request, "laboratories/list.html", context)


@require_safe
def laboratory(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a laboratory with its results."""
    one = get_object_or_404(Laboratory, pk=pk)
    context = {"shown": laboratory_page(one), "moved": just_moved(request)}
    return render(request, "laboratories/one.html", context)


@form_view
def edit_laboratory(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Add a laboratory or change it."""
    one = get_object_or_404(Laboratory.objects.live(), pk=pk) if pk else Laboratory()
    heading = f"Change {one}" if pk else "Add a laboratory"
    form = LaboratoryForm(request.POST or None, instance=one)
    page = Editing(
        heading=heading,
        forms=[form],
        sections=[
            section(form, "", "name"),
            section(form, "How often it errs", "misses", "mistakes", "rates_source", help=CAUTION),
            section(form, "", "notes"),
        ],
        back=_page(pk) if pk else reverse("register-laboratories"),
        reason=ReasonForm.of_change(request.POST or None) if pk else None,
    )
    return edited(
        request,
        page,
        save=lambda reason: writes.keep_laboratory(
            laboratory=one, by=account(request), reason=reason
        ),
        to=lambda: _page(one.pk),
    )


@form_view
def withdraw_laboratory(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask why, and take a laboratory out of the account."""
    one = get_object_or_404(Laboratory.objects.live(), pk=pk)
    form = ReasonForm.of_withdrawal(request.POST or None)
    page = Editing(
        heading=f"Withdraw {one}?",
        lead="It stays readable with its history, cannot be chosen any more, and can be restored.",
        forms=[form],
        sections=[section(form)],
        back=_page(pk),
        submit="Withdraw",
        harm=True,
    )
    return edited(
        request,
        page,
        save=lambda _: writes.withdraw_laboratory(
            laboratory=one, by=account(request), reason=form.cleaned_data["reason"]
        ),
        to=lambda: _page(pk),
    )


@require_POST
def restore_laboratory(request: HttpRequest, pk: int) -> HttpResponse:
    """Let a withdrawn laboratory be chosen again."""
    one = get_object_or_404(Laboratory.objects.withdrawn(), pk=pk)
    return written_at_once(
        request, lambda: writes.restore_laboratory(laboratory=one, by=account(request)), _page(pk)
    )


def _page(pk: int) -> str:
    return reverse("register-laboratory", args=[pk])


@form_view
def new_result(request: HttpRequest, pk: int) -> HttpResponse:
    """Enter what a laboratory found in an animal."""
    animal = get_object_or_404(Animal.objects.live().select_related("species"), pk=pk)
    form = ResultForm(
        request.POST or None,
        request.FILES or None,
        species=animal.species,
        instance=LabTest(animal=animal),
    )
    return _result(request, form, animal, f"A laboratory’s result on {animal}")


@form_view
def result(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct a result."""
    rows = LabTest.objects.live().select_related("animal__species", "line__trait", "laboratory")
    found = get_object_or_404(rows, pk=pk)
    heading = f"Correct: {found}"
    form = CorrectResultForm(
        request.POST or None, request.FILES or None, species=found.animal.species, instance=found
    )
    return _result(request, form, found.animal, heading)


def _result(request: HttpRequest, form: ResultForm, animal: Animal, heading: str) -> HttpResponse:
    pk = form.instance.pk
    if request.method == "POST" and form.is_valid():
        entry = written(
            lambda: writes.keep_test(
                test=form.instance,
                by=account(request),
                laboratory=form.laboratory(),
                report=form.report(),
                reason=form.cleaned_data.get("reason", ""),
            ),
            form,
            at={"name": "new_laboratory", "misses": "new_misses"},
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=animal.pk)
    context = {"form": form, "animal": animal, "heading": heading, "pk": pk, "caution": CAUTION}
    return render(request, "laboratories/result.html", context)
