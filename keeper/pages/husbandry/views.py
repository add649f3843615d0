"""Husbandry of one animal: its page, entering, correcting, withdrawing."""

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.access import account
from keeper.domain.husbandry import writes as care
from keeper.domain.husbandry.pointed_out import ADVICE
from keeper.domain.husbandry.queries import KINDS, last_of
from keeper.models import Animal, HusbandryRecord, Meal
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written, written_for_reason
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.husbandry import page as pages
from keeper.pages.husbandry.forms import FORMS, CareForm, MealForm


@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Show what was done for an animal: growth, feeding, and a list of each kind."""
    animal = get_object_or_404(Animal, pk=pk)
    kind = request.GET.get("of", "meal")
    kind = kind if kind in KINDS else "meal"
    if wants_file(request):
        return csv_file(f"{kind}-of-animal", pages.care_table(animal, kind))
    shown = pages.animal_care(animal, kind, request.GET.get("page"), timezone.localdate())
    context = {"shown": shown, "moved": just_moved(request), "advice": ADVICE, "do": pages.DO}
    return render(request, "husbandry/animal.html", context)


@form_view
def new(request: HttpRequest, pk: int, kind: str) -> HttpResponse:
    """Note something of an animal."""
    animal = get_object_or_404(Animal.objects.live(), pk=pk)
    form = _form(request, kind, _kind(kind)(animal=animal))
    if request.method == "POST" and form.is_valid():
        entry = written(
            lambda: care.note(records=[form.instance], animal=animal, by=account(request)), form
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=pk)
    context = {"form": form, "animal": animal, "heading": f"{pages.DO[kind]}: {animal}"}
    return render(request, "husbandry/form.html", context)


@form_view
def correct(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Correct a record, or end a quarantine."""
    record = _record(kind, pk)
    form = _form(request, kind, record)
    if request.method == "POST" and form.is_valid():
        entry = written(
            lambda: care.change(
                record=form.instance, by=account(request), reason=form.cleaned_data["reason"]
            ),
            form,
        )
        if entry is not None:
            return after_save("animals-husbandry", entry, pk=record.animal_id)
    context = {"form": form, "animal": record.animal, "heading": f"Correct: {_record(kind, pk)}"}
    return render(request, "husbandry/form.html", context | {"kind": kind, "pk": pk})


@form_view
def withdraw(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Take a record out of the account, with a reason."""
    record = _record(kind, pk)
    form = ReasonForm.of_record(request.POST if request.method == "POST" else None)
    entry = written_for_reason(
        form, lambda reason: care.withdraw(record=record, by=account(request), reason=reason)
    )
    if entry is not None:
        return after_save("animals-husbandry", entry, pk=record.animal_id)
    context = {"form": form, "animal": record.animal, "what": f"{record}", "heading": "Withdraw"}
    return render(request, "animals/withdraw.html", context)


def _form(request: HttpRequest, kind: str, record: HusbandryRecord) -> CareForm:
    data = request.POST if request.method == "POST" else None
    if kind == "meal":
        had = last_of(Meal, [record.animal_id]).get(record.animal_id)
        return MealForm(data, instance=record, last=had[0] if had else None)
    return FORMS[kind](data, instance=record)


def _kind(kind: str) -> type[HusbandryRecord]:
    if kind not in KINDS:
        raise Http404
    return KINDS[kind]


def _record(kind: str, pk: int) -> HusbandryRecord:
    found: HusbandryRecord = get_object_or_404(
        _kind(kind).objects.live().select_related("animal"), pk=pk
    )
    return found
