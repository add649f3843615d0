"""Lists as files for a spreadsheet: `?file=csv` at a list's own address gives all that it shows.

So a file has the filters of the page that its link stands on (`components/as_file.html`), and all
pages of it. What a cell may hold is `keeper/domain/saying/spreadsheet.py`'s to say.
"""

from collections.abc import Iterable, Sequence

from django.http import HttpRequest, StreamingHttpResponse
from django.utils import timezone

from keeper.domain.saying.spreadsheet import Cell, csv_lines

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
