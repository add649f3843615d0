"""Papers and statements of an animal, and the scans of papers."""

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from keeper.access import account
from keeper.domain.sources import writes as sources
from keeper.models import Animal, Paper, Statement
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.frame.said import StatementForm
from keeper.pages.sources.forms import CorrectPaperForm, CorrectStatementForm, PaperForm


@form_view
def new_statement(request: HttpRequest, pk: int) -> HttpResponse:
    """Enter what a source says of one trait."""
    animal = get_object_or_404(Animal.objects.live().select_related("species", "source"), pk=pk)
    statement = Statement(animal=animal, source=animal.source, on=animal.acquired_on)
    form = StatementForm(request.POST or None, species=animal.species, instance=statement)
    return _statement(request, form, animal, f"What is said of {animal}")


@form_view
def statement(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct a statement."""
    found = get_object_or_404(
        Statement.objects.live().select_related("animal__species", "trait", "line"), pk=pk
    )
    if found.signed_id is not None:
        messages.error(
            request,
            "What a signed paper says stands as it was signed. Take its arrival back in the "
            "daybook, or ask its signer for another.",
        )
        return redirect("animals-one", pk=found.animal_id)
    heading = f"Correct: {found}"
    form = CorrectStatementForm(request.POST or None, species=found.animal.species, instance=found)
    return _statement(request, form, found.animal, heading)


def _statement(
    request: HttpRequest, form: StatementForm, animal: Animal, heading: str
) -> HttpResponse:
    pk = form.instance.pk
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data.get("reason", "")
        entry = written(
            lambda: sources.keep_statement(
                statement=form.instance, by=account(request), reason=reason
            ),
            form,
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=animal.pk)
    context = {"form": form, "animal": animal, "heading": heading, "kind": "statement", "pk": pk}
    return render(request, "animals/record.html", context)


@form_view
def new_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """Enter a paper of an animal's source."""
    animal = get_object_or_404(Animal.objects.live().select_related("source"), pk=pk)
    paper = Paper(animal=animal, source=animal.source, dated=timezone.localdate())
    form = PaperForm(request.POST or None, request.FILES or None, instance=paper)
    return _paper(request, form, animal, f"Papers of {animal}")


@form_view
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct a paper."""
    found = get_object_or_404(Paper.objects.live().select_related("animal", "source"), pk=pk)
    heading = f"Correct the {found}"
    form = CorrectPaperForm(request.POST or None, request.FILES or None, instance=found)
    return _paper(request, form, found.animal, heading)


def _paper(request: HttpRequest, form: PaperForm, animal: Animal, heading: str) -> HttpResponse:
    pk = form.instance.pk
    if request.method == "POST" and form.is_valid():
        entry = written(
            lambda: sources.keep_paper(
                paper=form.instance,
                by=account(request),
                scan=form.cleaned_data["upload"],
                reason=form.cleaned_data.get("reason", ""),
            ),
            form,
            whole="upload",
        )
        if entry is not None:
            return after_save("animals-one", entry, pk=animal.pk)
    context = {"form": form, "animal": animal, "heading": heading, "kind": "document", "pk": pk}
    return render(request, "animals/record.html", context | {"with_file": True})


@require_safe
def scan(request: HttpRequest, pk: int) -> FileResponse:
    """Hand out the scan of a paper, to be kept or opened elsewhere."""
    found = get_object_or_404(Paper.objects.select_related("animal"), pk=pk)
    if not found.scan:
        raise Http404
    ending = found.scan.name.rpartition(".")[2]
    name = f"{found.animal.code}-paper-{found.pk}.{ending}"
    try:
        file = found.scan.open()
    except FileNotFoundError as missing:
        raise Http404("The scan is not among the book's files.") from missing
    answer = FileResponse(file, as_attachment=True, filename=name)
    answer["Cache-Control"] = "private, no-store"
    return answer
