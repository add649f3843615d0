"""The collection: the list with its filters, on paper and as a file; views with a name."""

from urllib.parse import parse_qsl, urlencode

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from keeper.access import account
from keeper.domain.animals.queries import by_code
from keeper.domain.book.typed import typed
from keeper.domain.collection import export, saved_views
from keeper.domain.collection import queries as reads
from keeper.domain.saying.spreadsheet import workbook
from keeper.models import SavedView
from keeper.models.care.labels import MOST_AT_ONCE
from keeper.pages.collection import page as pages
from keeper.pages.collection.forms import FiltersForm, ViewForm, plain_query
from keeper.pages.frame.files import csv_file
from keeper.pages.frame.requests import require_safe, wants_part

_WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_safe
def collection(request: HttpRequest) -> HttpResponse:
    """Show the animals that the address asks for; a search for one code opens its page."""
    if "go" in request.GET and (animal := by_code(typed(request.GET.get("q")))):
        return redirect("animals-one", animal.pk)
    form = FiltersForm(request.GET)
    views = pages.saved_views(account(request))
    found = pages.found(form, request.GET, views)
    page = {"form": form, "found": found, "views": views, "view_form": ViewForm()}
    if wants_part(request):
        answer = render(request, "collection/list.html#found", page)
        answer["HX-Push-Url"] = found.address
        return answer
    return render(request, "collection/list.html", page)


@require_safe
def on_paper(request: HttpRequest) -> HttpResponse:
    """Lay the list out for printing."""
    form = FiltersForm(request.GET)
    found = pages.found(form, request.GET, on_paper=True)
    return render(request, "collection/on_paper.html", {"found": found})


@require_safe
def as_file(request: HttpRequest, kind: str) -> HttpResponseBase:
    """Give all pages of the list as a file for a spreadsheet."""
    animals = reads.collection(FiltersForm(request.GET).filters())
    genes = export.genes_of(animals)
    heads, rows = export.animal_heads(genes), export.animal_rows(animals, genes)
    if kind == "csv":
        return csv_file("animals", (heads, rows))
    standings = (export.STANDING_HEADS, export.standing_rows(animals))
    answer = HttpResponse(
        workbook({"Animals": (heads, rows), "Standings": standings}), content_type=_WORKBOOK
    )
    name = f"animals-{timezone.localdate().isoformat()}.{kind}"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@require_safe
def views(request: HttpRequest) -> HttpResponse:
    """List this account's views, to rename and remove them."""
    return _views_page(request, {})


@require_POST
def save_view(request: HttpRequest) -> HttpResponse:
    """Give the current filters a name."""
    query = plain_query(request.POST)
    form = ViewForm(request.POST)
    if form.is_valid():
        name = form.cleaned_data["name"]
        try:
            saved_views.save_view(account=account(request), name=name, query=query)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            return redirect(reverse("animals") + f"?{query}")
    return render(request, "collection/name_view.html", {"form": form, "query": parse_qsl(query)})


@require_POST
def rename_view(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a view another name."""
    view = _own(request, pk)
    form = ViewForm(request.POST, prefix=f"view-{pk}")
    if form.is_valid():
        try:
            saved_views.rename_view(view=view, name=form.cleaned_data["name"])
        except ValidationError as error:
            form.add_error(None, error)
        else:
            return redirect("animals-views")
    return _views_page(request, {pk: form})


@require_POST
def remove_view(request: HttpRequest, pk: int) -> HttpResponse:
    """Forget a view; the animals in it stay."""
    view = _own(request, pk)
    saved_views.remove_view(view=view)
    messages.success(request, f"The view {view.name} is gone. Its animals are where they were.")
    return redirect("animals-views")


def _own(request: HttpRequest, pk: int) -> SavedView:
    """Nobody else's views can be reached, or told from those that are not there."""
    return get_object_or_404(SavedView, pk=pk, account=account(request))


def _views_page(request: HttpRequest, forms: dict[int, ViewForm]) -> HttpResponse:
    rows = [
        (
            view,
            forms.get(view.pk) or ViewForm(initial={"name": view.name}, prefix=f"view-{view.pk}"),
        )
        for view in pages.saved_views(account(request))
    ]
    return render(request, "collection/views.html", {"rows": rows})


@require_safe
def labels(request: HttpRequest) -> HttpResponse:
    """Lead to labels of all animals of the list, if they are not more than are printed at once."""
    rows = reads.collection(FiltersForm(request.GET).filters())
    found = list(rows.values_list("pk", flat=True)[: MOST_AT_ONCE + 1])
    if len(found) > MOST_AT_ONCE:
        messages.error(
            request, f"More than {MOST_AT_ONCE} labels are not printed at once. Filter the list."
        )
        query = plain_query(request.GET)
        return redirect(reverse("animals") + (f"?{query}" if query else ""))
    asked = urlencode([("animal", pk) for pk in found])
    return redirect(f"{reverse('animals-labels-new')}?{asked}")
