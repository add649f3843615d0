"""Logging in, with a code where there is a second factor, and the first set-up of a book."""

import time
from typing import Any

from django.contrib import messages
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from keeper.access import account, open_to_all, owner_only
from keeper.domain.accounts import second_factor, starting
from keeper.domain.accounts import writes as accounts
from keeper.domain.accounts.sealing import Unreadable
from keeper.models import Account
from keeper.pages.accounts.entering import count_wrong, let_in, may_try, too_many_tries
from keeper.pages.accounts.forms import BeginForm, CodeForm, LogInForm, SetUpForm
from keeper.pages.frame.requests import form_view

# Where a session keeps that somebody gave the password, and for how many seconds that is enough.
_HALF, _WAITS = "half", 600
# So few recovery codes are few.
_FEW = 3


@method_decorator(open_to_all, name="dispatch")
class LogIn(LoginView):
    """The log-in page; a book without an owner goes to its set-up instead."""

    template_name = "accounts/log_in.html"
    form_class = LogInForm
    redirect_authenticated_user = True

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Let in whoever has no second factor; ask the others for their code."""
        who = form.get_user()
        following = self.get_success_url()
        if not second_factor.has_second_factor(who):
            let_in(self.request, who)
            return redirect(following)
        self.request.session[_HALF] = {
            "pk": who.pk,
            "at": time.time(),
            "given": who.get_session_auth_hash(),
            "next": following,
        }
        return redirect("log-in-code")

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Answer with the page, or send a new book's first visitor to the set-up."""
        if accounts.needs_owner():
            return redirect("set-up")
        return super().dispatch(request, *args, **kwargs)


@open_to_all
@never_cache
@sensitive_post_parameters()
@form_view
def code(request: HttpRequest) -> HttpResponse:
    """Ask for the code after the password; a recovery code will do as well."""
    half = _half(request)
    if half is None:
        return redirect("log-in")
    if not may_try(request, half):
        return too_many_tries(request, None, None)
    form = CodeForm(request.POST or None)
    if not form.is_valid():
        return render(request, "accounts/code.html", {"form": form})
    try:
        accepted = second_factor.accepts(half, form.cleaned_data["code"])
    except Unreadable:
        return render(request, "accounts/code_unreadable.html", {"person": half}, status=503)
    if not accepted:
        count_wrong(request, half)
        form.add_error("code", "That is not the code of now. Type the one that the app shows.")
        return render(request, "accounts/code.html", {"form": form})
    following = request.session.pop(_HALF)["next"]
    let_in(request, half)
    left = second_factor.codes_left(half)
    if left <= _FEW:
        messages.warning(request, f"{left} recovery codes are left. Make new ones on your page.")
    return redirect(following)


def _half(request: HttpRequest) -> Account | None:
    """Return whoever gave their password and not yet their code, if that was a moment ago."""
    held = request.session.get(_HALF)
    if not held or time.time() - held["at"] > _WAITS:
        return None
    account = Account.objects.filter(pk=held["pk"], is_active=True).first()
    # A password that was changed meanwhile was not given.
    same = account is not None and account.get_session_auth_hash() == held["given"]
    return account if same else None


@open_to_all
@never_cache
@sensitive_post_parameters()
@form_view
def set_up(request: HttpRequest) -> HttpResponse:
    """Create the owner's account with the one-time code, once."""
    if not accounts.needs_owner():
        return redirect("log-in")
    form = SetUpForm(request.POST or None)
    if not form.is_valid():
        return render(request, "accounts/set_up.html", {"form": form})
    try:
        owner = accounts.create_owner(
            name=form.cleaned_data["name"], password=form.cleaned_data["password"]
        )
    except accounts.OwnerExists:
        return redirect("log-in")
    let_in(request, owner)
    return redirect("begin" if starting.example_is_shipped() else "home")


@owner_only
@form_view
def begin(request: HttpRequest) -> HttpResponse:
    """Let the owner of a new book start empty or with the example collection."""
    if not starting.example_may_be_loaded():
        return redirect("home")
    form = BeginForm(request.POST or None)
    if not form.is_valid():
        return render(request, "accounts/begin.html", {"form": form})
    if form.cleaned_data["begin"] == "example":
        starting.load_example(by=account(request))
    return redirect("home")
