"""One account for the owner of the book: what it may do, where it is logged in; and invitations."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from keeper.access import account, owner_only
from keeper.domain.accounts import inviting, log_ins, second_factor
from keeper.domain.accounts import writes as accounts
from keeper.domain.book.writing import Refused
from keeper.models import Account, Invitation
from keeper.pages.accounts.forms import AllowedForm, InvitationForm
from keeper.pages.accounts.page import NOTES, person_page
from keeper.pages.frame.refusals import take_error
from keeper.pages.frame.requests import form_view


@owner_only
@never_cache
@form_view
def invite(request: HttpRequest) -> HttpResponse:
    """Make an invitation, and show its link this once."""
    form = InvitationForm(request.POST or None)
    if form.is_valid():
        given = form.cleaned_data
        token, invitation = inviting.invite(by=account(request), **given)
        link = request.build_absolute_uri(f"/invitation/{token}/")
        context = {"link": link, "invitation": invitation}
        return render(request, "accounts/invited.html", context)
    return render(request, "accounts/invite.html", {"form": form, "notes": NOTES})


@owner_only
@require_POST
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Close an invitation."""
    invitation = get_object_or_404(Invitation, pk=pk)
    try:
        inviting.take_back(invitation=invitation, by=account(request))
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, "The invitation is taken back: its link is worth nothing now.")
    return redirect("home-accounts")


@owner_only
@form_view
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what somebody may do and see, and change it."""
    one = get_object_or_404(Account, pk=pk)
    held = {name: getattr(one, name) for name in ("role", "sees_people", "sees_prices")}
    form = None if one.is_owner else AllowedForm(request.POST or None, initial=held)
    if form is not None and form.is_valid():
        try:
            accounts.allow(account=one, by=account(request), **form.cleaned_data)
        except (Refused, ValidationError) as error:
            take_error(form, error)
        else:
            messages.success(request, f"What {one.name} may do and see is changed.")
            return redirect("home-accounts-one", pk=one.pk)
    shown = person_page(one, this=request.session.session_key)
    return render(request, "accounts/person.html", {"shown": shown, "form": form, "notes": NOTES})


@owner_only
@require_POST
def end_log_in(request: HttpRequest, pk: int) -> HttpResponse:
    """End one log-in of somebody, or all of them."""
    one = get_object_or_404(Account, pk=pk)
    key = request.POST.get("key", "")
    if key:
        log_ins.end(account=one, key=key)
    else:
        here = request.session.session_key if one == account(request) else None
        log_ins.end_all(account=one, but=here)
    messages.success(request, f"{one.name} is logged out there.")
    return redirect("home-accounts-one", pk=one.pk)


@owner_only
@require_POST
def second_factor_off(request: HttpRequest, pk: int) -> HttpResponse:
    """Turn somebody's second factor off, as when their phone is lost."""
    one = get_object_or_404(Account, pk=pk)
    if one.is_owner:
        return redirect("home-self-second")
    try:
        second_factor.turn_off(account=one, by=account(request))
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"{one.name} logs in with the password alone now.")
    return redirect("home-accounts-one", pk=one.pk)
