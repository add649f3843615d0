"""Notices: whom to tell that the book says otherwise than their sheet, and that they were told."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render

from keeper.access import account
from keeper.domain.prospects.questions import way_to
from keeper.domain.sheets import notices as domain
from keeper.domain.sheets import telling
from keeper.models import Sheet
from keeper.pages.frame.files import Table, csv_file, wants_file
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.sheets.forms import TellForm


@require_safe
def notices(request: HttpRequest) -> HttpResponseBase:
    """List the sheets whose holders are still to be told."""
    found = domain.open_notices()
    if wants_file(request):
        return csv_file("notices", _table(found))
    return render(request, "sheets/notices.html", {"notices": found})


@form_view
def tell(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a message that is ready to send, and keep that it was told."""
    sheet = get_object_or_404(Sheet.objects.select_related("animal", "buyer", "by"), pk=pk)
    notice = domain.notice_of(sheet)
    if notice is None and request.method != "POST":
        messages.info(request, "Nothing is left to tell of this sheet.")
        return redirect("sheets-one", pk=pk)
    said = telling.differs(notice, by=account(request)) if notice is not None else []
    text = telling.message(notice, said) if notice is not None else ""
    form = TellForm(request.POST or None, initial={"message": text, "upto": _upto(notice)})
    if form.is_valid():
        entry = written(lambda: telling.tell(sheet=sheet, by=account(request), **form.told), form)
        if entry is not None:
            return after_save("sheets-one", entry, pk=sheet.pk)
    who = telling.holder(sheet)
    subject = f"{sheet.animal.code}: what changed since sale sheet {sheet.numbered}"
    context = {
        "sheet": sheet,
        "said": said,
        "form": form,
        "holder": who,
        "way": way_to(who, subject, form["message"].value() or ""),
    }
    return render(request, "sheets/tell.html", context)


def _upto(notice: domain.Notice | None) -> int:
    return notice.upto if notice is not None else 0


def _table(found: list[domain.Notice]) -> Table:
    heads = ("Sheet", "Animal", "Holder", "Since", "What differs")
    rows = [
        (
            one.sheet.numbered,
            one.sheet.animal.code,
            str(telling.holder(one.sheet) or ""),
            one.since.date().isoformat(),
            one.kinds,
        )
        for one in found
    ]
    return heads, rows
