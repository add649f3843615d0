"""What the last save moved, for the page that is shown after it.

A view that has saved redirects to `after_save(address, entry)`; the page that it leads to puts
`just_moved(request)` into its context as `moved` and includes `components/moved.html`.
"""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponseRedirect
from django.shortcuts import redirect, resolve_url

from keeper.access import account
from keeper.domain.book.daybook import Moved, moved_by
from keeper.domain.book.typed import row_number
from keeper.models import DaybookEntry

_NAME = "moved"


def after_save(to: str, entry: DaybookEntry, **arguments: object) -> HttpResponseRedirect:
    """Return the redirect to a page (an address or the name of one) that tells what moved."""
    address = resolve_url(to, **arguments)
    return redirect(f"{address}?{urlencode({_NAME: entry.pk})}")


def just_moved(request: HttpRequest) -> Moved | None:
    """Return what the entry named in the address moved, if whoever asks wrote it."""
    number = row_number(request.GET.get(_NAME))
    if number is None:
        return None
    entry = DaybookEntry.objects.filter(pk=number, by=account(request)).first()
    return moved_by(entry) if entry is not None else None
