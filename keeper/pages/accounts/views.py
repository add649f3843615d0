"""Logging in, with a code where there is a second factor, and the first set-up of a book."""

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
from keeper.pages.accounts.entering import (
    count_wrong,
    following_half,
    half_of,
    keep_half,
    let_in,
    may_try,
    reached_by,
    too_many_tries,
)
from keeper.pages.accounts.forms import BeginForm, CodeForm, LogInForm, SetUpForm
from keeper.pages.accounts.page import passkey_for_code, passkey_for_log_in
from keeper.pages.frame.requests import form_view

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
        keep_half(self.request, who, following)
        return redirect("log-in-code")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Say whether a passkey can be shown here."""
        passkey = passkey_for_log_in(reached_by(self.request))
        return super().get_context_data(**kwargs) | {"passkey": passkey}

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
    half = half_of(request)
    if half is None:
        return redirect("log-in")
    if not may_try(request, half):
        return too_many_tries(request, None, None)
    form = CodeForm(request.POST or None)
    page = {"form": form, "passkey": passkey_for_code(half, reached_by(request))}
    if not form.is_valid():
        return render(request, "accounts/code.html", page)
    try:
        accepted = second_factor.accepts(half, form.cleaned_data["code"])
    except Unreadable:
        return render(request, "accounts/code_unreadable.html", {"person": half}, status=503)
    if not accepted:
        count_wrong(request, half)
        form.add_error("code", "That is not the code of now. Type the one that the app shows.")
        return render(request, "accounts/code.html", page)
    following = following_half(request)
    let_in(request, half, by="a password and a code")
    left = second_factor.codes_left(half)
    if left <= _FEW:
        messages.warning(request, f"{left} recovery codes are left. Make new ones on your page.")
    return redirect(following)


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
