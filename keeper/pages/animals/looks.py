"""Looks at an animal: logged, corrected; and any of an animal's records withdrawn."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from keeper.access import account
from keeper.domain.animals import looks
from keeper.domain.animals import writes as animals
from keeper.models import Animal, LabTest, Look, Observation, Paper, Photo, Statement
from keeper.pages.animals.look_forms import CorrectLookForm, CorrectObservationForm, LookForm
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import written, written_at_once, written_for_reason
from keeper.pages.frame.requests import form_view

_KINDS: dict[str, type[animals.OfAnimal]] = {
    "look": Look,
    "observation": Observation,
    "statement": Statement,
    "document": Paper,
    "photo": Photo,
    "lab-test": LabTest,
}


@form_view
def observe(request: HttpRequest, pk: int) -> HttpResponse:
    """Log a look at an animal."""
    animal = get_object_or_404(Animal.objects.live().select_related("species"), pk=pk)
    initial = {"scope": request.session.get("look_scope")}
    form = LookForm(request.POST or None, species=animal.species, initial=initial)
    if request.method == "POST" and form.is_valid():
        request.session["look_scope"] = form.cleaned_data["scope"]
        entry = written(
            lambda: looks.log_look(animal=animal, looked=form.looked(), by=account(request)), form
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=pk)
    context = {"form": form, "animal": animal, "heading": f"Log a look at {animal}"}
    return render(request, "animals/look.html", context)


@form_view
def correct_look(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct a whole look: its day, and what was seen at it."""
    look = get_object_or_404(Look.objects.live().select_related("animal__species"), pk=pk)
    form = CorrectLookForm(request.POST or None, look=look)
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]
        entry = written(
            lambda: looks.change_look(
                look=look, looked=form.looked(), by=account(request), reason=reason
            ),
            form,
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=look.animal_id)
    kept = get_object_or_404(Look.objects.select_related("animal"), pk=pk)
    context = {"form": form, "animal": kept.animal, "heading": f"Correct: {kept}", "look": kept}
    return render(request, "animals/look.html", context)


@form_view
def correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct an observation."""
    found = get_object_or_404(
        Observation.objects.live().select_related("animal__species", "trait"), pk=pk
    )
    animal, heading = found.animal, f"Correct: {found}"
    form = CorrectObservationForm(request.POST or None, instance=found)
    if request.method == "POST" and form.is_valid():
        entry = written(
            lambda: looks.change_observation(
                observation=found, by=account(request), reason=form.cleaned_data["reason"]
            ),
            form,
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=animal.pk)
    context = {"form": form, "animal": animal, "heading": heading, "kind": "observation", "pk": pk}
    return render(request, "animals/record.html", context)


@form_view
def withdraw(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Take one of an animal's records out of the account, with a reason."""
    record = _record(kind, pk, withdrawn=False)
    form = ReasonForm.of_record(request.POST if request.method == "POST" else None)
    entry = written_for_reason(
        form,
        lambda reason: animals.withdraw_record(record=record, by=account(request), reason=reason),
    )
    if entry is not None:
        return after_save("animals-one", entry, pk=record.animal_id)
    context = {"form": form, "animal": record.animal, "what": f"{record}", "heading": "Withdraw"}
    return render(request, "animals/withdraw.html", context)


@require_POST
def restore(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Let one of an animal's withdrawn records count again."""
    record = _record(kind, pk, withdrawn=True)
    page = reverse("animals-one", args=[record.animal_id])
    return written_at_once(
        request, lambda: animals.restore(record=record, by=account(request)), page
    )


def _record(kind: str, pk: int, *, withdrawn: bool) -> animals.OfAnimal:
    if kind not in _KINDS:
        raise Http404
    rows: Any = _KINDS[kind]._base_manager.select_related("animal")
    found: animals.OfAnimal = get_object_or_404(rows, pk=pk, withdrawn_at__isnull=not withdrawn)
    return found
