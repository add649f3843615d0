"""The whole book as a file, and an archive back into an empty book; for the owner alone."""

import hmac
import tempfile

from django.contrib import messages
from django.contrib.auth import login
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from keeper.access import owner_only
from keeper.domain.archives import opening, waiting
from keeper.domain.archives.describing import left_out
from keeper.domain.archives.inside import look
from keeper.domain.archives.making import make
from keeper.domain.book.refusing import Refused
from keeper.pages.archives.forms import ArchiveForm
from keeper.pages.archives.page import inside, told
from keeper.pages.frame.requests import form_view, require_safe
from keeper.serving.server import LARGEST_BODY

_BACKEND = "django.contrib.auth.backends.ModelBackend"


@owner_only
@require_safe
def archives(request: HttpRequest) -> HttpResponse:
    """Say what an archive is, and offer to make one."""
    page = {"left_out": left_out(), "empty": opening.is_empty()}
    return render(request, "archives/page.html", page)


@owner_only
@require_GET
def as_file(request: HttpRequest) -> FileResponse:
    """Make an archive and hand it out; it is nowhere else afterwards."""
    now = timezone.localtime()
    file = tempfile.TemporaryFile()  # noqa: SIM115  # the answer closes it
    make(file, made_at=now)
    file.seek(0)
    name = f"book-{now:%Y-%m-%d-%H%M}.zip"
    return FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")


@owner_only
@form_view
def send(request: HttpRequest) -> HttpResponse:
    """Take an archive in, to be looked at; nothing of it goes into the book yet."""
    empty = opening.is_empty()
    form = ArchiveForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and empty and form.is_valid():
        try:
            look(waiting.keep_waiting(form.cleaned_data["archive"].chunks()))
        except Refused as refused:
            waiting.forget()
            form.add_error("archive", str(refused))
        else:
            return redirect("home-archives-inside")
    page = {"form": form, "empty": empty, "most": LARGEST_BODY // 2**20}
    return render(request, "archives/send.html", page)


@owner_only
@form_view
def look_inside(request: HttpRequest) -> HttpResponse:
    """Show what is in the archive that was sent, and fill the book with it when told to."""
    path = waiting.waiting()
    if path is None or not opening.is_empty():
        return redirect("home-archives-open")
    digest = waiting.digest(path)
    try:
        found = look(path)
        if request.method == "POST" and hmac.compare_digest(
            request.POST.get("digest", "").encode(), digest.encode()
        ):
            return _opened(request, opening.open_into_book(path))
    except Refused as refused:
        waiting.forget()
        return render(request, "archives/refused.html", {"refusal": str(refused)})
    page = {"inside": inside(found.manifest), "digest": digest}
    return render(request, "archives/inside.html", page)


def _opened(request: HttpRequest, opened: opening.Opened) -> HttpResponse:
    waiting.forget()
    login(request, opened.owner, backend=_BACKEND)
    messages.success(request, "The archive is open: everything in it is in this book now.")
    for sentence in told(opened):
        messages.info(request, sentence)
    return redirect("home")
