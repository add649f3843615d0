"""Bringing in a table: its file, its columns, what is asked, its dry run, and its writing."""

from functools import partial
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from keeper.access import account, owner_only
from keeper.domain.book.writing import Refused
from keeper.domain.imports import changing, copies, queries, running
from keeper.domain.imports.checking import checked
from keeper.domain.imports.writes import what_it_does
from keeper.models import Import, Stage
from keeper.pages.frame.refusals import said
from keeper.pages.frame.requests import form_view, wants_part
from keeper.pages.imports.forms import HeadsForm, PicksForm, UploadForm, version_of
from keeper.pages.imports.page import dry_run
from keeper.pages.imports.question_forms import QuestionForms


@owner_only
@form_view
def imports(request: HttpRequest) -> HttpResponse:
    """List what was brought in or is being, and take another file."""
    form = UploadForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            one = changing.begin(name=file.name, data=file.read(), by=account(request))
        except Refused as refused:
            form.add_error("file", str(refused))
        else:
            return redirect("animals-imports-columns", pk=one.pk)
    context = {
        "form": form,
        "imports": list(queries.listed()[:50]),
        "species": queries.species_there().exists(),
    }
    return render(request, "imports/list.html", context)


@owner_only
@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show where an import stands: its columns, its dry run, its writing or what it wrote."""
    found = _found(pk)
    if (progress := running.progress(found)) is not None:
        template = "imports/progress.html" + ("#progress" if wants_part(request) else "")
        return render(request, template, {"one": found, "progress": progress})
    if wants_part(request):
        return HttpResponseClientRedirect(reverse("animals-imports-one", args=[pk]))
    if found.stage == Stage.COLUMNS:
        return redirect("animals-imports-columns", pk=pk)
    if found.is_over:
        return render(request, "imports/done.html", {"one": found})
    shown = dry_run(found, checked(found), request.GET.get("show", ""), request.GET.get("page"))
    context = {"shown": shown, "one": found, "no_copy": copies.trouble()}
    return render(request, "imports/rows.html", context)


@owner_only
@form_view
def columns(request: HttpRequest, pk: int) -> HttpResponse:
    """Pick sheet, heads and columns."""
    found = _found(pk)
    if found.is_over:
        return redirect("animals-imports-one", pk=pk)
    data = request.POST if request.method == "POST" else None
    again = data is not None and "again" in data
    heads = HeadsForm(data if again else None, of=found)
    form = PicksForm(None if again else data, of=found)
    chosen = heads if again else form
    if chosen.is_bound and chosen.is_valid():
        try:
            version = version_of(request.POST)
            if again:
                _take_heads(found, heads, version)
                return redirect("animals-imports-columns", pk=pk)
            changing.pick(one=found, picks=form.picks, choices=form.choices(), version=version)
        except (Refused, ValidationError) as error:
            chosen.add_error(None, said(error))
        else:
            return redirect("animals-imports-one", pk=pk)
    context = {"one": found, "heads": heads, "form": form}
    return render(request, "imports/columns.html", context)


def _take_heads(found: Import, form: HeadsForm, version: int) -> None:
    given = form.cleaned_data
    if given.get("sheet", found.sheet) != found.sheet:
        changing.choose_sheet(one=found, sheet=given["sheet"], version=version)
        return
    changing.choose_heads(
        one=found, row=given["head_row"], count=given["head_rows"], version=version
    )


@owner_only
@form_view
def questions(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask what is not known, each thing once."""
    found = _found(pk)
    if not found.is_open:
        return redirect("animals-imports-one", pk=pk)
    data = request.POST if request.method == "POST" else None
    asked = QuestionForms(checked(found).questions, data)
    if data is not None and asked.is_valid():
        if again := data.get("again"):
            return _tried(request, found, lambda: changing.ask_again(one=found, key=again))
        answers = asked.answers()
        try:
            changing.answer(one=found, answers=answers)
        except Refused as refused:
            messages.error(request, str(refused))
            return redirect("animals-imports-one", pk=pk)
        found.refresh_from_db()
        left = checked(found).questions
        return redirect("animals-imports-questions" if left else "animals-imports-one", pk=pk)
    context = {"one": found, "asked": asked, "answers": sorted(found.answers.items())}
    return render(request, "imports/questions.html", context)


@owner_only
@require_safe
def outcome(request: HttpRequest, pk: int) -> HttpResponse:
    """Try the import on: what it moves, and what would contradict each other."""
    found = _found(pk)
    if not found.is_open:
        return redirect("animals-imports-one", pk=pk)
    context: dict[str, Any] = {"one": found}
    try:
        context["preview"] = what_it_does(one=found, by=account(request))
    except (Refused, ValidationError) as error:
        context["refusal"] = said(error)
    return render(request, "imports/outcome.html", context)


@owner_only
@require_POST
def write(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin to write an import."""
    found = _found(pk)
    if checked(found).remarked and "odd_is_so" not in request.POST:
        messages.error(request, "Something looks odd. Look at it, and say that it is so.")
        return redirect(f"{reverse('animals-imports-one', args=[pk])}?show=odd")
    begin = partial(
        running.start,
        one=found,
        version=version_of(request.POST),
        by=account(request),
        without_copy="without_copy" in request.POST,
    )
    return _tried(request, found, begin)


@owner_only
@form_view
def throw_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw an import away that was not written, with its file."""
    found = _found(pk)
    if request.method == "POST":
        try:
            changing.throw_away(one=found)
        except Refused as refused:
            messages.error(request, str(refused))
            return redirect("animals-imports-one", pk=pk)
        messages.info(request, f"{found} was thrown away, with its file.")
        return redirect("animals-imports")
    return render(request, "imports/throw_away.html", {"one": found})


def _tried(request: HttpRequest, found: Import, change: Any) -> HttpResponse:
    """Do something to an import, and go to its page, which tells what came of it."""
    try:
        change()
    except (Refused, ValidationError) as error:
        messages.error(request, said(error))
    return redirect("animals-imports-one", pk=found.pk)


def _found(pk: int) -> Import:
    return get_object_or_404(Import, pk=pk)
