"""Labels: their page, printing, what they are printed on, and where a scanned one leads."""

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from keeper.access import account
from keeper.domain.book.typed import row_number
from keeper.domain.book.writing import Refused
from keeper.domain.labels import queries as reads
from keeper.domain.labels import writes as domain
from keeper.domain.labels.addresses import is_here_alone, offered, subject_of
from keeper.domain.labels.content import content_of
from keeper.domain.labels.offer import ASKED, offer_of
from keeper.models import Animal, Clutch, DaybookEntry, LabelRun, LabelSheet, Place
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import pdf_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import take_error, written, written_for_reason
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.labels import page as pages
from keeper.pages.labels.forms import OFTEN, PrintForm, SheetForm, often
from keeper.paper.typesetting import typeset_labels


@require_safe
def labels(request: HttpRequest) -> HttpResponse:
    """Show what was printed, on what, and which labels lead elsewhere."""
    page = pages.labels_page(_addresses(request))
    context = {"page": page, "often": _often(), "moved": just_moved(request)}
    return render(request, "labels/list.html", context)


@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Choose which labels are printed, on what, and print them."""
    offer, addresses = offer_of(_asked(request)), _addresses(request)
    form = PrintForm(request.POST or None, offer=offer, addresses=addresses, last=reads.last_run())
    if request.method == "POST" and form.is_valid():
        said = {name: form.cleaned_data[name] for name in ("sheet", "address", "first")}
        try:
            run, entry = domain.print_labels(wanted=form.wanted(), by=account(request), **said)
            return after_save("animals-labels-run", entry, pk=run.pk)
        except (Refused, ValidationError) as error:
            take_error(form, error)
    context = {
        "form": form,
        "offer": offer,
        "sheets": reads.sheets().exists(),
        "here_alone": is_here_alone(addresses[0]),
        "often": _often(),
    }
    return render(request, "labels/print.html", context)


@require_safe
def run(request: HttpRequest, pk: int) -> HttpResponse:
    """Show labels that were printed together, to be printed again."""
    one = get_object_or_404(LabelRun.objects.select_related("sheet"), pk=pk)
    addresses = _addresses(request)
    context = {
        "run": one,
        "labels": reads.labels_of(one),
        "leads_elsewhere": one.address not in addresses,
        "here_alone": is_here_alone(one.address),
        "moved": just_moved(request),
    }
    return render(request, "labels/run.html", context)


@require_safe
def pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """Return labels as a PDF; `?first=4` begins at another label of the first page."""
    one = get_object_or_404(LabelRun.objects.select_related("sheet"), pk=pk)
    first = row_number(request.GET.get("first"))
    content = content_of(one, first=first if first in _spots(one) else None)
    return pdf_file(request, f"labels-{one.pk}", lambda: typeset_labels(content))


@form_view
def sheet_new(request: HttpRequest) -> HttpResponse:
    """Enter what labels are printed on."""
    form = SheetForm(request.POST or None, initial=often(request.GET.get("like", "")))
    return _kept(request, form, "Add a label sheet")


@form_view
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """Change the measures of a label sheet."""
    one = get_object_or_404(LabelSheet.objects.live(), pk=pk)
    return _kept(request, SheetForm(request.POST or None, instance=one), f"Change {one}")


@form_view
def sheet_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Offer a label sheet no more."""
    one = get_object_or_404(LabelSheet.objects.live(), pk=pk)
    form = ReasonForm.of_record(request.POST if request.method == "POST" else None)
    entry = written_for_reason(
        form, lambda reason: domain.withdraw_sheet(sheet=one, reason=reason, by=account(request))
    )
    if entry is not None:
        return after_save("animals-labels", entry)
    context = {"form": form, "heading": f"Withdraw {one}", "sheet": one, "harm": True}
    return render(request, "labels/sheet.html", context)


@require_safe
def scanned(request: HttpRequest, kind: str, mark: str, tub: int | None = None) -> HttpResponse:
    """Show what a scanned label is of, with the next entry one tap away."""
    match subject_of(kind, mark):
        case Animal() as animal if tub is None:
            shown = pages.of_animal(animal.pk)
        case Clutch() as clutch:
            shown = pages.of_clutch(clutch.pk, tub)
        case Place() as place if tub is None:
            shown = pages.of_place(place)
        case _:
            return render(request, "labels/unknown.html", status=404)
    return render(request, "labels/scanned.html", {"shown": shown})


def _kept(request: HttpRequest, form: SheetForm, heading: str) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data.get("reason", "")
        entry = written(
            lambda: domain.keep_sheet(sheet=form.instance, reason=reason, by=account(request)), form
        )
        if entry is not None:
            return _onwards(request, entry)
    there = LabelSheet.objects.filter(pk=form.instance.pk).first()
    context = {"form": form, "heading": heading, "sheet": there, "often": _often()}
    return render(request, "labels/sheet.html", context)


def _asked(request: HttpRequest) -> dict[str, list[int]]:
    """The records that an address names, by their kind."""
    return {
        name: [pk for one in request.GET.getlist(name) if (pk := row_number(one)) is not None]
        for name in ASKED
    }


def _onwards(request: HttpRequest, entry: DaybookEntry) -> HttpResponse:
    """Lead to the labels that were to be printed when a sheet was missing, or to all of them."""
    then = QueryDict(request.GET.get("then", "")[:4000])
    if not then:
        return after_save("animals-labels", entry)
    return redirect(f"{reverse('animals-labels-new')}?{then.urlencode()}")


def _often() -> list[tuple[str, object]]:
    return [(word, measures[0]) for word, measures in OFTEN.items()]


def _addresses(request: HttpRequest) -> list[str]:
    return offered(f"{request.scheme}://{request.get_host()}")


def _spots(one: LabelRun) -> range:
    return range(1, one.sheet.a_page + 1)
