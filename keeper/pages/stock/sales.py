"""Sales: begun, gone on with, corrected, on paper."""

from collections.abc import Callable, Sequence

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from keeper.access import account
from keeper.domain.book.typed import row_number
from keeper.domain.stock import writes as domain
from keeper.domain.stock.queries import asked_now, open_sales, sheets_for
from keeper.domain.stock.receipts import receipt_of
from keeper.models import Animal, DaybookEntry, Sale
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import pdf_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written, written_for_reason
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.stock import page as pages
from keeper.pages.stock.forms import EndForm, SaleEditForm, SaleForm
from keeper.paper.typesetting import typeset

_MOST = 100
_WRITES: dict[str, Callable[..., DaybookEntry]] = {
    "call-off": domain.call_off,
    "take-back": domain.take_back,
}


@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Hold animals for a buyer or sell them: those that the address names by `animal`."""
    animals = _named(request.GET.getlist("animal"))
    pks = [one.pk for one in animals]
    # What went to its buyer stays so: only a hold, or a sale before the animal went, goes on.
    held = {pk: one for pk, one in open_sales(pks).items() if one.handed_on is None}
    data = request.POST if request.method == "POST" else None
    form = SaleForm(data, animals=animals, held=held, asked=asked_now(pks))
    if animals and form.is_valid():
        entry = written(
            lambda: domain.begin_sales(
                sales=form.sales(), buyer=form.new_contact(), by=account(request)
            ),
            form,
        )
        if entry is not None:
            return _after(animals, entry)
    context = {"form": form, "animals": animals, "held": list(held.values()), "most": _MOST}
    return render(request, "stock/sell.html", context)


def _after(animals: Sequence[Animal], entry: DaybookEntry) -> HttpResponse:
    if len(animals) == 1:
        sale = open_sales([animals[0].pk])[animals[0].pk]
        return after_save("animals-sale", entry, pk=sale.pk)
    return after_save("animals-stock", entry)


def _named(numbers: Sequence[str]) -> list[Animal]:
    pks = [pk for one in numbers[:_MOST] if (pk := row_number(one)) is not None]
    rows = Animal.objects.live().filter(pk__in=pks)
    return list(rows.select_related("species").order_by("code"))


@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a sale: how far it has come, and what comes next."""
    sale = _sale(pk)
    context = {
        "shown": pages.sale_page(sale, sheets_for(sale)),
        "moved": just_moved(request),
    }
    return render(request, "stock/sale.html", context)


@form_view
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct a sale."""
    sale = _sale(pk)
    form = SaleEditForm(request.POST if request.method == "POST" else None, instance=sale)
    if form.is_valid():
        entry = written(
            lambda: domain.change(
                sale=form.instance,
                buyer=form.new_contact(),
                by=account(request),
                reason=form.cleaned_data["reason"],
            ),
            form,
        )
        if entry is not None:
            return after_save("animals-sale", entry, pk=pk)
    return render(request, "stock/edit.html", {"form": form, "sale": _sale(pk)})


@form_view
def step(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """Hand a sold animal over, call a sale off, or note that the animal came back."""
    sale = _sale(pk)
    asked = pages.STEPS[step]
    data = request.POST if request.method == "POST" else None
    form = EndForm(data, note=asked.note, help_text=asked.help_text)
    if form.is_valid():
        given = form.cleaned_data
        said = {"reason": given["note"]} if step == "hand-over" else {"note": given["note"]}
        write = _WRITES.get(step, domain.hand_over)
        entry = written(lambda: write(sale=sale, on=given["on"], by=account(request), **said), form)
        if entry is not None:
            return after_save("animals-sale", entry, pk=pk)
    context = {"form": form, "animal": sale.animal, "sale": sale, "step": asked}
    return render(request, "stock/step.html", context)


@form_view
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a sale out of the account that never was."""
    sale = _sale(pk)
    form = ReasonForm.of_record(request.POST if request.method == "POST" else None)
    entry = written_for_reason(
        form, lambda reason: domain.withdraw(sale=sale, reason=reason, by=account(request))
    )
    if entry is not None:
        return after_save("animals-one", entry, pk=sale.animal_id)
    context = {"form": form, "animal": sale.animal, "what": f"{sale}", "heading": "Withdraw"}
    return render(request, "animals/withdraw.html", context)


@require_safe
def receipt(request: HttpRequest, pk: int, size: str) -> HttpResponse:
    """Return the receipt of a sale as a PDF."""
    sale = _sale(pk)
    content = receipt_of(sale, by=account(request))
    if content is None:
        raise Http404("Nothing of it was paid, or it never was.")
    name = f"receipt-{sale.animal.code}-{size}"
    return pdf_file(request, name, lambda: typeset(content, source="receipt", size=size))


def _sale(pk: int) -> Sale:
    rows = Sale.objects.select_related("animal__species", "buyer")
    found: Sale = get_object_or_404(rows, pk=pk)
    return found
