"""What to prove this season, and one possible carrier with all that could test it."""

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.domain.book.typed import row_number
from keeper.domain.proving import planning, queries
from keeper.models import Animal, Line, Trait
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.requests import require_safe, wants_part
from keeper.pages.proving.forms import ProvingForm
from keeper.pages.proving.page import proving_rows, suspect_page
from keeper.pages.proving.table import proving_table


@require_safe
def listed(request: HttpRequest) -> HttpResponseBase:
    """Show what to prove, of all or of one project or trait; `?all=1` works out more of it."""
    form = ProvingForm(request.GET)
    every = "all" in request.GET
    plan = planning.what_to_prove(
        timezone.localdate(),
        project=form.chosen("project"),
        trait=form.chosen("trait"),
        most=planning.LONG if every else planning.SHORT,
    )
    rows = proving_rows(plan.tests)
    if wants_file(request):
        return csv_file("to-prove", proving_table(rows))
    asked = request.GET.copy()
    asked["all"] = "1"
    context = {
        "form": form,
        "plan": plan,
        "rows": rows,
        "every": every,
        "more": f"?{asked.urlencode()}",
        "narrowed": any(form.chosen(name) for name in ("project", "trait")),
    }
    name = "proving/list.html#found" if wants_part(request) else "proving/list.html"
    return render(request, name, context)


@require_safe
def one(request: HttpRequest, animal: int, trait: int) -> HttpResponse:
    """Show one possible carrier of a trait (`?line=pk`: of one line) and whom to test it with."""
    suspect = get_object_or_404(Animal.objects.live().select_related("species"), pk=animal)
    about = get_object_or_404(Trait.objects.live(), pk=trait, species=suspect.species_id)
    asked = request.GET.get("line", "")
    line = None
    if asked:
        line = get_object_or_404(Line.objects.live(), pk=row_number(asked), trait=about)
    standing = queries.standing_of(suspect, about, line.pk if line else None)
    said = queries.statements([standing]) if standing is not None else {}
    statement = said.get((suspect.pk, about.pk))
    context = {
        "animal": suspect, "trait": about, "line": line, "standing": standing,
        "statement": statement,
    }  # fmt: skip
    if standing is not None and queries.is_open(standing):
        plan = planning.suspect_plan(standing, timezone.localdate())
        context["page"] = suspect_page(plan, statement)
    return render(request, "proving/one.html", context)
