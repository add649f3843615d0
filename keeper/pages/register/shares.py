"""The parts of a trait's lines among animals sold as it, line not known."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from keeper.access import account
from keeper.domain.register.shares import keep_shares, shares_of
from keeper.models import Line, Trait
from keeper.pages.frame.editing import Editing, edited, section
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.requests import form_view
from keeper.pages.register.several_line_forms import SharesForm


@form_view
def shares(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask for the parts of all lines at once."""
    trait = get_object_or_404(Trait.objects.live(), pk=pk)
    address = reverse("register-trait", args=[pk])
    lines = Line.objects.live().filter(trait=trait).select_related("trait").order_by("code")
    if len(lines) < 2:
        return redirect(address)
    form = SharesForm(request.POST or None, shares=shares_of(lines))
    page = Editing(
        heading=f"{trait}, line not known",
        lead=f"Of animals sold as {trait} of which nobody says the line: how many in a hundred "
        "are of each. Together they make 100 %.",
        forms=[form],
        sections=[section(form, name="parts")],
        back=address,
        reason=ReasonForm.of_change(request.POST or None),
    )
    return edited(
        request,
        page,
        save=lambda reason: keep_shares(
            trait=trait, shares=form.chosen(), by=account(request), reason=reason
        ),
        to=lambda: address,
    )
