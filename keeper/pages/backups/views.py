"""Copies of the book, for its owner: the list, one made now, how they are made, the way back."""

from dataclasses import asdict
from pathlib import Path

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRedirect

from keeper.access import account, owner_only
from keeper.domain.background import jobs
from keeper.domain.backups import asked, epoch, looking, shelf
from keeper.domain.backups.archive import Manifest
from keeper.domain.backups.restoring import Restored, restore
from keeper.domain.backups.troubles import NeedsPassphrase, NotMade, WrongPassphrase
from keeper.domain.book.refusing import Refused
from keeper.pages.backups import page as pages
from keeper.pages.backups.forms import (
    OpenForm,
    PassphraseForm,
    ReceiveForm,
    RestoreForm,
    WishesForm,
)
from keeper.pages.frame.requests import form_view, require_safe, wants_part

_TOLD = 5


@owner_only
@require_safe
def backups(request: HttpRequest) -> HttpResponse:
    """List the copies, and say how they are made; `?job=` is one that was asked for."""
    job = asked.of(request.GET.get("job", ""))
    progress = jobs.look(job) if job is not None else None
    if progress is not None:
        name = "backups/list.html" + ("#progress" if wants_part(request) else "")
        return render(request, name, {"page": pages.page(), "progress": progress, "job": job})
    if wants_part(request):
        told = f"?job={job.pk}" if job is not None else ""
        return HttpResponseClientRedirect(reverse("home-backups") + told)
    return render(request, "backups/list.html", {"page": pages.page(), "job": job})


@owner_only
@require_POST
def make(request: HttpRequest) -> HttpResponse:
    """Begin to make a copy now."""
    try:
        job = asked.begin()
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("home-backups")
    return redirect(f"{reverse('home-backups')}?job={job.pk}")


@owner_only
@form_view
def wishes(request: HttpRequest) -> HttpResponse:
    """Choose how often, where, and how many."""
    form = WishesForm(request.POST or None, initial=asdict(shelf.read().wishes))
    if form.is_valid():
        shelf.set_wishes(form.wishes())
        messages.success(request, "Kept. The next copy is made so.")
        return redirect("home-backups")
    return render(request, "backups/settings.html", {"form": form})


@owner_only
@sensitive_post_parameters()
@form_view
def passphrase(request: HttpRequest) -> HttpResponse:
    """Encrypt copies from now on, or no more."""
    encrypted = bool(shelf.passphrase())
    if request.POST.get("do") == "none":
        shelf.set_passphrase("")
        messages.success(request, "New copies are not encrypted. Those made before still are.")
        return redirect("home-backups")
    form = PassphraseForm(request.POST or None)
    if form.is_valid():
        shelf.set_passphrase(form.cleaned_data["passphrase"])
        messages.success(request, "New copies are encrypted with this passphrase.")
        return redirect("home-backups")
    return render(request, "backups/passphrase.html", {"form": form, "encrypted": encrypted})


@owner_only
@form_view
def receive(request: HttpRequest) -> HttpResponse:
    """Take a copy that lies on another device, and look into it."""
    form = ReceiveForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        try:
            name = pages.receive(form.cleaned_data["file"])
        except OSError as error:
            form.add_error("file", f"It could not be kept: {error.strerror}. Make room for it.")
        else:
            return redirect("home-backups-one", place=pages.RECEIVED, name=name)
    return render(request, "backups/receive.html", {"form": form})


@owner_only
@require_safe
def file(request: HttpRequest, place: str, name: str) -> FileResponse:
    """Hand out a copy as it lies there."""
    path = _path(place, name)
    kind = "application/zip" if name.endswith(shelf.PLAIN) else "application/octet-stream"
    return FileResponse(path.open("rb"), as_attachment=True, filename=name, content_type=kind)


@owner_only
@sensitive_post_parameters()
@form_view
def one(request: HttpRequest, place: str, name: str) -> HttpResponse:
    """Look into a copy and, if that is meant, put it in the place of the book."""
    path = _path(place, name)
    typed = request.POST.get("passphrase", "")
    page: dict[str, object] = {"name": name, "place": place}
    opening = OpenForm(request.POST if typed else None)
    try:
        manifest, secret = _look(path, typed)
    except (NeedsPassphrase, WrongPassphrase) as error:
        if typed:
            opening.add_error("passphrase", str(error))
        return render(request, "backups/one.html", page | {"opening": opening})
    except Refused as error:
        return render(request, "backups/one.html", page | {"trouble": str(error)})
    meant = request.POST.get("do") == "restore"
    failed = bool(request.POST.get("failed"))
    form = RestoreForm(request.POST if meant else None, sealed=secret == typed != "", failed=failed)
    if meant and form.is_valid():
        came = _restored(request, path, secret, form)
        if came is not None:
            _tell(request, came)
            return redirect("home-backups")
    page |= {"contents": pages.contents(manifest), "form": form}
    return render(request, "backups/one.html", page)


def _look(path: Path, typed: str) -> tuple[Manifest, str]:
    """Return what a copy holds, and what opens it: what was typed, or else what is kept."""
    secret = typed or shelf.passphrase()
    return looking.look(path, secret), secret


def _restored(request: HttpRequest, path: Path, secret: str, form: RestoreForm) -> Restored | None:
    """Restore; None where that is refused, which then stands in the form."""
    try:
        return restore(
            path,
            passphrase=secret,
            by=account(request),
            seen_epoch=epoch.book().epoch,
            without_copy=form.cleaned_data["without_copy"],
        )
    except NotMade as error:
        form.offer_without_copy()
        form.add_error("without_copy", str(error))
    except Refused as error:
        form.add_error(None, str(error))
    return None


def _tell(request: HttpRequest, came: Restored) -> None:
    messages.success(
        request, "The book was restored. Forms that were open elsewhere must be opened anew."
    )
    if came.before is not None:
        messages.info(request, f"The book as it was before lies in {came.before.name}.")
    for what, found in (
        ("Put right, as this program reckons it", came.differing),
        ("Not in order", came.faults),
    ):
        if found:
            more = f"; and {len(found) - _TOLD} more" if len(found) > _TOLD else ""
            messages.warning(request, f"{what}: {'; '.join(found[:_TOLD])}{more}.")


def _path(place: str, name: str) -> Path:
    path = pages.path_of(place, name)
    if path is None:
        raise Http404("There is no such copy there.")
    return path
