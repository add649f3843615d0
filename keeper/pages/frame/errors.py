"""What is said when a request cannot be answered; what was typed stays on the page."""

import errno
import sys
from collections.abc import Iterator
from dataclasses import dataclass

from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, UnreadablePostError
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views.decorators.debug import sensitive_variables

from keeper.serving.files import Unreachable

# Fields whose values no page shows again: a password or passphrase, new, again, or the present one.
_SECRET = {"password", "passphrase", "again", "current"}
_OF_THE_FRAME = "csrfmiddlewaretoken"
# PostgreSQL: a lock was not to be had in time, or the transaction lost against another.
_BUSY_STATES = {"55P03", "40001", "40P01"}
_FULL_STATES = {"53100"}


@dataclass(frozen=True)
class Trouble:
    """Something that passes, or that the keeper can mend.

    Attributes:
        title, said: what is so, and what to do.
        status: of the answer, by RFC 9110 and RFC 4918.
    """

    title: str
    said: str
    status: int


BUSY = Trouble(
    "The book is busy",
    "Something else is being written that takes long, and this had to wait too long for it.",
    503,
)
FULL = Trouble(
    "The disk is full",
    "There is no room left where the book is kept. Make room on that disk first.",
    507,
)
READ_ONLY = Trouble(
    "The book cannot be written",
    "Its file, or the disk it is on, may be read only. Whoever looks after the machine can mend "
    "that.",
    503,
)
OUT_OF_REACH = Trouble(
    "The pictures are out of reach",
    "The store that they lie in does not answer, or does not let the book in. Try again in a "
    "while; whoever looks after the machine can look at its log.",
    503,
)


def form_expired(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say that a form was too old to be trusted, and how to keep what was typed."""
    return render(request, "403_form.html", status=403)


def broken(request: HttpRequest) -> HttpResponse:
    """Say that the book could not answer: why, if that is known, and what was sent.

    Asks the database nothing: it may be what broke.
    """
    trouble = trouble_of(sys.exc_info()[1])
    if trouble is None:
        return HttpResponse(render_to_string("500.html"), status=500)
    shown = {"trouble": trouble, "again": request.get_full_path()}
    # What came from another site is never sent again from here.
    if request.method == "POST" and getattr(request, "csrf_processing_done", False):
        shown |= {"typed": list(_typed(request)), "csrf": get_token(request)}
        shown["files"] = bool(request.FILES)
    answer = HttpResponse(render_to_string("trouble.html", shown), status=trouble.status)
    answer["Retry-After"] = "5"
    return answer


def trouble_of(error: BaseException | None) -> Trouble | None:
    """Return what is to be said of an error; None if it is a fault of the program."""
    while error is not None:
        if isinstance(error, OperationalError):
            return _of_database(error)
        if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
            return FULL
        if isinstance(error, OSError) and error.errno == errno.EROFS:
            return READ_ONLY
        if isinstance(error, Unreachable):
            return OUT_OF_REACH
        error = error.__cause__
    return None


def _of_database(error: OperationalError) -> Trouble | None:
    state, text = getattr(error.__cause__, "sqlstate", None), str(error)
    if state in _BUSY_STATES or "is locked" in text:
        return BUSY
    if state in _FULL_STATES or "is full" in text:
        return FULL
    return READ_ONLY if "readonly" in text else None


@sensitive_variables()
def _typed(request: HttpRequest) -> Iterator[tuple[str, str]]:
    """Yield the fields that can be sent again."""
    try:
        sent = request.POST
    except UnreadablePostError:
        return
    for name, values in sent.lists():
        if name != _OF_THE_FRAME and name not in _SECRET:
            for value in values:
                yield name, value
