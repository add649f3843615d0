"""Sale sheets: read before issuing, issue, print, take back."""

from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from keeper.access import account
from keeper.domain.book.writing import Refused
from keeper.domain.sheets import listing as offers
from keeper.domain.sheets import signing
from keeper.domain.sheets import writes as domain
from keeper.domain.sheets.living import picture_file
from keeper.domain.sheets.notices import notice_of, told_of
from keeper.domain.sheets.otherwise import otherwise
from keeper.domain.sheets.queries import sheets_of
from keeper.models import Animal, Sheet
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import pdf_file, printed_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import take_error, written_for_reason
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.sheets import page as contexts
from keeper.pages.sheets.forms import IssueForm
from keeper.paper.typesetting import typeset, typeset_card


@form_view
def make(request: HttpRequest, pk: int) -> HttpResponse:
    """Show exactly what a sheet of an animal will say, and issue it."""
    animal = _animal(pk)
    by = account(request)
    page = contexts.preview(animal, by=by)
    form = IssueForm(request.POST or None)
    if form.is_valid() and page.may_issue:
        buyer, read = form.cleaned_data["buyer"], form.cleaned_data["mark"]
        try:
            sheet, entry = domain.issue(animal=animal, by=by, buyer=buyer, read=read)
            return after_save("sheets-one", entry, pk=sheet.pk)
        except (Refused, ValidationError) as error:
            take_error(form, error)
    context = {"animal": animal, "page": page, "form": form, "sheets": sheets_of(animal)}
    return render(request, "sheets/make.html", context)


@require_safe
def draft_pdf(request: HttpRequest, pk: int, size: str) -> HttpResponse:
    """Return the PDF of a sheet that is not issued, and says so."""
    animal = _animal(pk)
    content = domain.draft(animal, by=account(request))
    return _paper(request, content, size, f"draft-{animal.code}", animal)


@require_safe
def listing(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the text of an offer, in the shorthand of the trade and in full words."""
    animal = _animal(pk)
    licence = request.GET.get("licence", "")
    text = offers.listing(animal, by=account(request), licence=licence)
    context = {"animal": animal, "text": text, "licence": licence[: offers.LICENCE]}
    return render(request, "sheets/listing.html", context)


@require_safe
def listing_picture(request: HttpRequest, pk: int) -> HttpResponse:
    """Return the same as a picture to be shared, with the newest photo; `?download` to keep it."""
    animal = _animal(pk)
    content = offers.card(animal, by=account(request), licence=request.GET.get("licence", ""))
    photo = picture_file(animal, content.pop("photo"))
    return printed_file(
        request, f"{animal.code}.png", "image/png", lambda: typeset_card(content, picture=photo)
    )


@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a sheet as it was issued, and what it would say otherwise today."""
    sheet = _sheet(pk)
    stands = not (sheet.is_withdrawn or sheet.animal.is_withdrawn)
    context = {
        "otherwise": otherwise(sheet, by=account(request)) if stands else [],
        "sheet": sheet,
        "content": sheet.content,
        "sizes": contexts.sizes(
            sheet.content, picture_file(sheet.animal, sheet.content.get("photo", {}))
        ),
        "verdict": (verdict := signing.check(sheet)),
        "paper_holds": contexts.paper_holds(sheet, verdict),
        "notice": notice_of(sheet),
        "told": list(told_of(sheet)),
        "moved": just_moved(request),
    }
    return render(request, "sheets/one.html", context)


@require_safe
def pdf(request: HttpRequest, pk: int, size: str) -> HttpResponse:
    """Return the PDF of an issued sheet; `?download=1` to keep it."""
    sheet = _sheet(pk)
    name = f"sheet-{sheet.numbered}-{sheet.animal.code}"
    return _paper(request, sheet.content, size, name, sheet.animal)


@form_view
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a sheet back with a reason."""
    sheet = _sheet(pk)
    form = ReasonForm(
        request.POST or None, help_text="The number stays taken, and the sheet readable."
    )
    entry = written_for_reason(
        form, lambda reason: domain.withdraw(sheet=sheet, reason=reason, by=account(request))
    )
    if entry is not None:
        return after_save("sheets-one", entry, pk=sheet.pk)
    return render(request, "sheets/withdraw.html", {"sheet": sheet, "form": form})


def _paper(
    request: HttpRequest, content: dict[str, Any], size: str, name: str, animal: Animal
) -> HttpResponse:
    # Sheets issued before pictures were printed have no such field.
    picture = picture_file(animal, content.get("photo", {}))
    name = f"{name}-{size}"
    return pdf_file(
        request, name, lambda: typeset(content, source="sheet", size=size, picture=picture)
    )


def _animal(pk: int) -> Animal:
    rows = Animal.objects.live().select_related("species", "source", "clutch__dam", "dam", "sire")
    found: Animal = get_object_or_404(rows, pk=pk)
    return found


def _sheet(pk: int) -> Sheet:
    found: Sheet = get_object_or_404(
        Sheet.objects.select_related("animal", "buyer", "by", "key"), pk=pk
    )
    return found
