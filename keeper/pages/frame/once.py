"""Each form is written once, and never over what others wrote unseen.

What the book asked (`keeper/domain/book/writing.py`) and the keeper insists on comes with the form,
and stays with it if it is refused for something else.

Every form that writes holds `{% once record … %}` (`keeper/templatetags/once.py`): a token, and the
versions of the records that it was made from. This middleware hands both to the book; a form that
is sent again (a double tap, a lost connection, Back and Save) leads to the entry it made first.

A form that was made before the book was restored is not written: what it was about may be something
else by now. Its page (`restored.html`) says so, and keeps all that was typed.
"""

import re
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase, UnreadablePostError
from django.shortcuts import redirect, render

from keeper.domain.backups import epoch
from keeper.domain.backups.epoch import BookRestored
from keeper.domain.book import submission
from keeper.domain.book.submission import INSIST, INSTEAD, MADE_FROM, TOKEN, AlreadyWritten
from keeper.models import DaybookEntry, Record
from keeper.pages.frame.links import link_of
from keeper.pages.frame.moved import after_save

# Read by `static/js/drafts.js`.
KEPT = "keptlines_kept"

# What a page put there by itself, and what nobody may read over a shoulder.
_NOT_TYPED = re.compile(
    rf"^({TOKEN}|{MADE_FROM}|{INSIST}|{INSTEAD}|back|csrfmiddlewaretoken)$"
    r"|_FORMS$|password|passphrase|^passkey_answer$|^again$|^seen$"
)
_WRITTEN = "This form was saved already: nothing was written a second time."

Answer = Callable[[HttpRequest], HttpResponseBase]


class OnceMiddleware:
    """Holds what a form sent along while its request is answered."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer a request; of a form that was written before, with the way to its entry."""
        with epoch.read_once():
            return self._answered(request)

    def _answered(self, request: HttpRequest) -> HttpResponseBase:
        if request.method != "POST":
            return self.answer(request)
        _take_instead(request)
        with submission.submitted(*_sent(request)) as form:
            response = self.answer(request)
            if response.status_code == 200 and (entry := submission.entry_of(form)) is not None:
                # It was written by another request while this one was being answered.
                return _lead_to(request, entry)
            _name_kept(response, form)
            if response.status_code == 302:
                for sentence in form.kept:
                    messages.info(request, sentence)
            return response

    def process_view(self, request: HttpRequest, *_: Any) -> HttpResponseBase | None:
        """Lead a form that was written before to its entry, before anything is read of it.

        One that was made before the book was restored is shown what was typed.
        """
        form = submission.current()
        if form is None or not request.user.is_authenticated:
            return None
        entry = submission.entry_of(form)
        if entry is not None:
            return _lead_to(request, entry)
        return _restored_meanwhile(request) if submission.is_of_another_epoch(form) else None

    def process_exception(
        self, request: HttpRequest, exception: Exception
    ) -> HttpResponseBase | None:
        """Lead a form to its entry where the book found out that it was written before."""
        if isinstance(exception, AlreadyWritten):
            return _lead_to(request, exception.entry)
        if isinstance(exception, BookRestored):
            return _restored_meanwhile(request)
        return None


def _name_kept(response: HttpResponseBase, form: submission.Submission) -> None:
    """Tell the browser which form was kept, so that it forgets what was typed into it."""
    if form.token and submission.is_kept(form):
        _let_forget(response, form)


def _let_forget(response: HttpResponseBase, form: submission.Submission) -> None:
    response.set_cookie(
        KEPT, form.token, max_age=3600, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE
    )


def _sent(request: HttpRequest) -> tuple[str, str, list[str]]:
    """Return token, versions and what is insisted on; none of a form that arrived in part."""
    try:
        sent = request.POST
    except UnreadablePostError:
        return "", "", []
    return sent.get(TOKEN, ""), sent.get(MADE_FROM, ""), sent.getlist(INSIST)


def _take_instead(request: HttpRequest) -> None:
    """Put what was offered, and taken with one tap, in place of what was typed."""
    try:
        offered = submission.read_instead(request.POST.get(INSTEAD, ""))
    except UnreadablePostError:
        return
    if offered:
        sent = request.POST.copy()
        for name, value in offered:
            sent[name] = value
        del sent[INSTEAD]
        # Django sets it so itself; the stubs want it immutable.
        request.POST = sent  # type: ignore[assignment]


def _lead_to(request: HttpRequest, entry: DaybookEntry) -> HttpResponseBase:
    messages.info(request, _WRITTEN)
    page = _page_of(entry)
    if not page or entry.by_id != request.user.pk:
        return redirect("daybook-entry", pk=entry.pk)
    return after_save(page, entry)


def _restored_meanwhile(request: HttpRequest) -> HttpResponseBase:
    """Show what was typed into a form that is of another life of the book."""
    typed = [
        (name.replace("_", " ").replace("-", " "), value)
        for name, values in request.POST.lists()
        if not _NOT_TYPED.search(name)
        for value in values
        if value.strip()
    ]
    files = [file.name for _, several in request.FILES.lists() for file in several]
    page = {"typed": typed, "files": files, "restored_at": epoch.book().restored_at}
    answer = render(request, "restored.html", page, status=409)
    if (form := submission.current()) is not None:
        # It stands on this page now. Put back into the form it would be of the life before again.
        _let_forget(answer, form)
    return answer


def _page_of(entry: DaybookEntry) -> str:
    model = entry.subject_type.model_class() if entry.subject_type is not None else None
    if model is None or not issubclass(model, Record):
        return ""
    subject = model._base_manager.filter(pk=entry.subject_id).first()
    return link_of(subject) if subject is not None else ""
