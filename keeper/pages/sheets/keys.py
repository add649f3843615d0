"""The keys that sign sheets, for the owner: which there are, change one, state one as lost."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from keeper.access import account, owner_only
from keeper.domain.sheets import keys as domain
from keeper.models import Ended, SigningKey
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written, written_at_once, written_for_reason
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.sheets.forms import LostForm


@owner_only
@require_safe
def keys(request: HttpRequest) -> HttpResponse:
    """List the keys, where the one that signs is kept, and how it is kept apart."""
    current = domain.current()
    context = {
        "keys": SigningKey.objects.all(),
        "current": current,
        "file": domain.file_of(current) if current else "",
        "at_hand": current is not None and domain.is_at_hand(current),
        "unknown": domain.unknown_fingerprint() if current else "",
        "moved": just_moved(request),
    }
    return render(request, "sheets/keys.html", context)


@owner_only
@form_view
def change(request: HttpRequest) -> HttpResponse:
    """Change the key for another."""
    form = ReasonForm(request.POST or None)
    entry = written_for_reason(form, lambda why: domain.change(by=account(request), why=why))
    if entry is not None:
        return after_save("sheets-keys", entry)
    return render(request, "sheets/key_change.html", {"form": form})


@owner_only
@form_view
def lost(request: HttpRequest) -> HttpResponse:
    """State that the key is lost, or that others may have it."""
    form = LostForm(request.POST or None)
    if form.is_valid():
        why, taken = form.cleaned_data["reason"], form.cleaned_data["how"] == Ended.TAKEN
        by = account(request)
        entry = written(lambda: domain.give_up(by=by, why=why, in_other_hands=taken), form)
        if entry is not None:
            return after_save("sheets-keys", entry)
    return render(request, "sheets/key_lost.html", {"form": form})


@owner_only
@require_POST
def take_up(request: HttpRequest) -> HttpResponse:
    """Go on with the key of the data folder that the book does not know."""
    return written_at_once(request, lambda: domain.take_up(by=account(request)), "sheets-keys")
