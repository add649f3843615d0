"""Disputes: the list, one with its explanations, adopting one of them; and surprises."""

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from keeper.access import account
from keeper.domain.book.previewing import tried
from keeper.domain.book.writing import Refused
from keeper.domain.disputes import queries as reads
from keeper.domain.disputes import surprises
from keeper.domain.explaining import DisputeCluster, adopt, cluster_of
from keeper.models import DaybookEntry, Dispute, Surprise
from keeper.pages.disputes import explanations
from keeper.pages.disputes import page as pages
from keeper.pages.disputes.forms import AdoptForm
from keeper.pages.disputes.table import disputes_table
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written_at_once
from keeper.pages.frame.requests import form_view, require_safe, wants_part

_SETTLED = "This dispute was settled meanwhile: nothing was changed now."
_MOVED_ON = (
    "The book has changed since you looked. See what adopting it would change now, and adopt it "
    "once more if that is right."
)


def _found(pk: int) -> tuple[Dispute, DisputeCluster | None]:
    """The dispute on these records as it is now, and the cluster it is part of while it is open."""
    dispute = reads.latest_of(get_object_or_404(Dispute, pk=pk))
    return dispute, cluster_of(dispute) if dispute.closed_id is None else None


@require_safe
def disputes(request: HttpRequest) -> HttpResponseBase:
    """List what is in dispute, what was unlikely, and what was settled lately."""
    shown = pages.disputes_page()
    if wants_file(request):
        return csv_file("disputes", disputes_table(shown))
    context = {"shown": shown, "moved": just_moved(request)}
    return render(request, "disputes/list.html", context)


@require_safe
def one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a dispute: its records and whose numbers they hold up; or how it was settled."""
    dispute, cluster = _found(pk)
    if dispute.pk != pk:
        # Settled and opened again: these records have one page, that of the last time.
        query = request.GET.urlencode()
        return redirect(
            reverse("home-disputes-one", args=[dispute.pk]) + (f"?{query}" * bool(query))
        )
    context: dict[str, object] = {"moved": just_moved(request)}
    if cluster is None:
        shown = pages.closed_page(dispute)
        return render(request, "disputes/closed.html", context | {"shown": shown})
    return render(
        request, "disputes/one.html", context | {"shown": pages.cluster_page(cluster, dispute)}
    )


@require_safe
def explained(request: HttpRequest, pk: int) -> HttpResponse:
    """List what may be behind a dispute, the likeliest first."""
    dispute, cluster = _found(pk)
    if cluster is None:
        return redirect("home-disputes-one", pk=dispute.pk)
    part = "#explanations" if wants_part(request) else ""
    context = {"shown": explanations.explanations_page(cluster, dispute)}
    return render(request, f"disputes/explanations.html{part}", context)


@form_view
def explanation(request: HttpRequest, pk: int, key: str) -> HttpResponse:
    """Show what adopting an explanation would change, and adopt it if that was seen."""
    dispute, cluster = _found(pk)
    form = AdoptForm(request.POST or None, auto_id=f"{key.replace('+', '_')}_%s")
    if cluster is None:
        if request.method != "POST":
            return redirect("home-disputes-one", pk=dispute.pk)
        shown = explanations.ExplanationPage(dispute, key, None, None, _SETTLED)
        return _asked(request, shown, form)
    by = account(request)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            outcome = tried(
                lambda: adopt(cluster=cluster, key=key, by=by, reason=given["reason"]),
                seen=given["seen"],
                always=True,
            )
        except (Refused, ValidationError):
            # What stands against it is said by the page itself.
            outcome = None
        if isinstance(outcome, DaybookEntry):
            return after_save("home-disputes-one", outcome, pk=dispute.pk)
        if outcome is not None:
            form.add_error(None, _MOVED_ON)
    return _asked(request, explanations.explanation_page(cluster, dispute, key, by), form)


def _asked(
    request: HttpRequest, shown: explanations.ExplanationPage, form: AdoptForm
) -> HttpResponse:
    part = "#ahead" if wants_part(request) else ""
    return render(request, f"disputes/explanation.html{part}", {"shown": shown, "form": form})


@require_POST
def look_at(request: HttpRequest, pk: int) -> HttpResponse:
    """Note that somebody looked at what was unlikely; or point it out again."""
    surprise = get_object_or_404(Surprise.objects.select_related("animal", "clutch"), pk=pk)
    change = surprises.point_out if "again" in request.POST else surprises.look_at
    page = reverse("home-disputes")
    return written_at_once(request, lambda: change(surprise=surprise, by=account(request)), page)
