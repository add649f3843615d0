"""All that is due, and the chores among it."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from keeper.access import account
from keeper.domain.today import writes
from keeper.domain.today.duties import duties
from keeper.models import Account, Chore, DaybookEntry
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written, written_for_reason
from keeper.pages.frame.requests import form_view, reading
from keeper.pages.today.due import HEADS, due_page, lines
from keeper.pages.today.forms import ChoreForm, DueForm


@reading
@form_view
def due(request: HttpRequest) -> HttpResponseBase:
    """Show all that is due, by place or by person; close, put off or give what is marked."""
    by = "person" if request.GET.get("by") == "person" else "place"
    today = timezone.localdate()
    found = duties(today)
    shown = due_page(found, today, by=by)
    if wants_file(request):
        return csv_file("due", (HEADS, lines(shown)))
    form = DueForm(_sent(request), offered=found)
    if form.is_valid():
        entry = written(lambda: _settle(form, account(request)), form)
        if entry is not None:
            return redirect(f"{reverse('home-due')}?{urlencode({'by': by, 'moved': entry.pk})}")
    marked = set(form["duty"].value() or ())
    context = {"shown": shown, "form": form, "by": by, "marked": marked}
    return render(request, "today/due.html", context | {"moved": just_moved(request)})


def _sent(request: HttpRequest) -> dict[str, object] | None:
    """What was sent: a button beside one duty stands for it alone, whatever else is marked."""
    if request.method != "POST":
        return None
    sent = request.POST
    one = sent.get("one", "")
    said: dict[str, object] = {name: sent.get(name, "") for name in ("act", "until", "person")}
    if one:
        return said | {"duty": [one], "act": "done"}
    return said | {"duty": sent.getlist("duty")}


def _settle(form: DueForm, by: Account) -> DaybookEntry:
    said = form.cleaned_data
    keys = said["duty"]
    if said["act"] == "off":
        return writes.put_off(keys=keys, until=said["until"], by=by)
    if said["act"] == "back":
        return writes.bring_back(keys=keys, by=by)
    if said["act"] == "give":
        return writes.give(keys=keys, to=said["person"], by=by)
    return writes.close(keys=keys, by=by)


@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Write down what is to be done by a day."""
    initial = {"on": timezone.localdate(), "animal": request.GET.get("animal", "")[:24]}
    form = ChoreForm(request.POST if request.method == "POST" else None, initial=initial)
    if form.is_valid():
        entry = written(lambda: writes.add_chore(chore=form.instance, by=account(request)), form)
        if entry is not None:
            return after_save("home-due", entry)
    return render(request, "today/chore.html", {"form": form, "heading": "To be done"})


@form_view
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a chore that waits."""
    chore = get_object_or_404(Chore.objects.live().filter(done_on=None), pk=pk)
    form = ChoreForm(request.POST if request.method == "POST" else None, instance=chore)
    if form.is_valid():
        entry = written(lambda: writes.change_chore(chore=form.instance, by=account(request)), form)
        if entry is not None:
            return after_save("home-due", entry)
    kept = get_object_or_404(Chore, pk=pk)
    context = {"form": form, "heading": f"Change: {kept}", "chore": kept}
    return render(request, "today/chore.html", context)


@form_view
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a chore away that need not be done."""
    chore = get_object_or_404(Chore.objects.live().filter(done_on=None), pk=pk)
    data = request.POST if request.method == "POST" else None
    form = ReasonForm(data, label="Why not", help_text="Kept in the daybook.")
    entry = written_for_reason(
        form, lambda reason: writes.withdraw_chore(chore=chore, reason=reason, by=account(request))
    )
    if entry is not None:
        return after_save("home-due", entry)
    context = {"form": form, "heading": f"Need not be done: {chore}", "chore": chore, "harm": True}
    return render(request, "today/chore.html", context)
