"""Animals: their pages, entering, changing, withdrawing and restoring them."""

import json

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from keeper.access import account
from keeper.domain import inference
from keeper.domain.animals import queries
from keeper.domain.animals import writes as animals
from keeper.domain.animals.founder_codes import next_codes
from keeper.domain.book.history import history_of
from keeper.domain.book.writing import Refused
from keeper.domain.breeding.shown import shown_season
from keeper.domain.husbandry.pointed_out import ADVICE
from keeper.domain.husbandry.summary import summary_of
from keeper.domain.pedigree import drawing
from keeper.domain.stock.summary import stock_of
from keeper.models import Animal, Line, Trait
from keeper.pages.animals.arrival import ArrivalForms
from keeper.pages.animals.forms import ChangeAnimalForm
from keeper.pages.animals.grounds import days_page, grounds_page, how_telling
from keeper.pages.animals.look_forms import LookForm
from keeper.pages.animals.moving import movings
from keeper.pages.animals.page import animal_page
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written, written_at_once, written_for_reason
from keeper.pages.frame.requests import form_view, require_safe, wants_part


@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an animal: what it carries, and everything that was entered about it."""
    animal = get_object_or_404(queries.with_origin(Animal.objects.all()), pk=pk)
    looked = LookForm(species=animal.species, initial={"scope": request.session.get("look_scope")})
    context = {
        "shown": animal_page(animal),
        "pedigree": drawing.of_animal(animal, drawing.Asked()),
        "season": shown_season(animal),
        "moved": just_moved(request),
        "look": looked,
        "care": summary_of(animal, timezone.localdate()),
        "advice": ADVICE,
        "stock": stock_of(animal),
    }
    return render(request, "animals/one.html", context)


@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Enter a new animal with its papers."""
    posted = request.method == "POST"
    forms = ArrivalForms(request.POST, request.FILES) if posted else ArrivalForms()
    if posted and forms.is_valid():
        try:
            arrival = forms.arrival()
            entry = animals.add_animal(arrival=arrival, by=account(request))
            return after_save("animals-one", entry, pk=arrival.animal.pk)
        except (ValidationError, Refused) as error:
            forms.take(error)
    context = {"forms": forms, "codes": next_codes()}
    return render(request, "animals/new.html", context)


@form_view
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change an animal: a parent, its sex, where it is."""
    animal = get_object_or_404(Animal, pk=pk)
    form = ChangeAnimalForm(request.POST or None, instance=animal)
    if request.method == "POST" and form.is_valid():
        entry = written(
            lambda: animals.change_animal(
                animal=animal,
                by=account(request),
                reason=form.cleaned_data["reason"],
                contact=form.new_contact(),
            ),
            form,
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=pk)
    # What was typed is in the form; the page's own words are about the animal as it is kept.
    kept = get_object_or_404(Animal, pk=pk)
    return render(request, "animals/edit.html", {"form": form, "animal": kept})


@form_view
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an animal out of the book's account, with a reason."""
    animal = get_object_or_404(Animal.objects.live(), pk=pk)
    form = ReasonForm.of_record(request.POST if request.method == "POST" else None)
    entry = written_for_reason(
        form,
        lambda reason: animals.withdraw_animal(animal=animal, by=account(request), reason=reason),
    )
    if entry is not None:
        return after_save("animals-one", entry, pk=pk)
    context = {"form": form, "animal": animal, "what": f"{animal}", "heading": f"Withdraw {animal}"}
    return render(request, "animals/withdraw.html", context)


@require_POST
def restore(request: HttpRequest, pk: int) -> HttpResponse:
    """Let a withdrawn animal count again."""
    animal = get_object_or_404(Animal.objects.withdrawn(), pk=pk)
    page = reverse("animals-one", args=[pk])
    return written_at_once(
        request, lambda: animals.restore(record=animal, by=account(request)), page
    )


@require_safe
def grounds(request: HttpRequest, pk: int, trait: int) -> HttpResponse:
    """Show why a standing is what it is, or day by day how it came about; a part, or a page.

    As a part alone: how telling its clean hatchlings are, which the page says as well.
    """
    animal = get_object_or_404(Animal, pk=pk)
    about = get_object_or_404(Trait, pk=trait)
    named = request.GET.get("line", "")
    line = get_object_or_404(Line, pk=named, trait=about) if named.isdecimal() else None
    part = wants_part(request)
    if request.GET.get("by") == "days":
        template = "animals/grounds_days.html" + ("#days" if part else "")
        return render(request, template, {"shown": days_page(animal, about, line)})
    if part and request.GET.get("by") == "telling":
        telling = how_telling(animal, about, line)
        return render(request, "animals/parts/clean_young.html", {"telling": telling})
    template = "animals/grounds.html" + ("#grounds" if part else "")
    return render(request, template, {"shown": grounds_page(animal, about, line)})


@require_safe
def history(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how an animal's numbers moved, and who wrote what about it, and when."""
    animal = get_object_or_404(Animal, pk=pk)
    template = "animals/history.html" + ("#revisions" if wants_part(request) else "")
    context = {
        "animal": animal,
        "movings": movings(animal),
        "revisions": history_of(animals.records_of(animal)),
    }
    return render(request, template, context)


@require_safe
def case(request: HttpRequest, pk: int) -> HttpResponse:
    """Hand out the animal's family as a case file of the engine."""
    animal = get_object_or_404(Animal, pk=pk)
    try:
        found = inference.case_file(animal)
    except inference.Unanswerable as error:
        messages.error(request, str(error))
        return redirect("animals-one", pk=pk)
    text = json.dumps(found, indent=2, ensure_ascii=False)
    answer = HttpResponse(text, content_type="application/json; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{animal.code}-case.json"'
    return answer
