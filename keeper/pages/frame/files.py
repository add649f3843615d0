"""Lists as files for a spreadsheet, and PDFs.

`?file=csv` at a list's own address gives all that it shows.

So a file has the filters of the page that its link stands on (`components/as_file.html`), and all
pages of it. What a cell may hold is `keeper/domain/saying/spreadsheet.py`'s to say.
"""

from collections.abc import Callable, Iterable, Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import content_disposition_header

from keeper.domain.saying.spreadsheet import Cell, csv_lines
from keeper.paper.typesetting import CannotPrint

# The heads of a table, and its rows.
Table = tuple[Sequence[Cell], Iterable[Sequence[Cell]]]


def wants_file(request: HttpRequest) -> bool:
    """Whether the list is asked for as a file."""
    return request.GET.get("file") == "csv"


def csv_file(name: str, table: Table) -> StreamingHttpResponse:
    """Answer with a table as comma-separated values, named after the list and the day."""
    heads, rows = table
    answer = StreamingHttpResponse(csv_lines(heads, rows), content_type="text/csv")
    file = f"{name}-{timezone.localdate().isoformat()}.csv"
    answer["Content-Disposition"] = f'attachment; filename="{file}"'
    return answer


def kept_file(name: str, data: bytes) -> HttpResponse:
    """Answer with a signed file, exactly as it is, to be kept."""
    shown = content_disposition_header(as_attachment=True, filename=name)
    headers = {"Content-Disposition": shown or "attachment"}
    return HttpResponse(data, content_type="application/json", headers=headers)


def pdf_file(request: HttpRequest, name: str, make: Callable[[], bytes]) -> HttpResponse:
    """Answer with a PDF, shown or with `?download` kept; or with why it cannot be printed."""
    return printed_file(request, f"{name}.pdf", "application/pdf", make)


def printed_file(
    request: HttpRequest, name: str, kind: str, make: Callable[[], bytes]
) -> HttpResponse:
    """Answer with what was typeset as a file of some kind, as `pdf_file` does."""
    try:
        made = make()
    except CannotPrint as error:
        messages.error(request, str(error))
        return render(request, "cannot_print.html", status=422)
    shown = content_disposition_header("download" in request.GET, name)
    headers = {"Content-Disposition": shown or "inline", "Cache-Control": "private, no-store"}
    return HttpResponse(made, content_type=kind, headers=headers)
