"""Logging in and out, and the first set-up of a book."""

from typing import Any

from django.contrib.auth import login
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from keeper.access import account, open_to_all, owner_only
from keeper.domain.accounts import starting
from keeper.domain.accounts import writes as accounts
from keeper.pages.accounts.forms import BeginForm, LogInForm, SetUpForm
from keeper.pages.frame.requests import form_view

# Axes counts the tries of this backend's log-ins; after set-up there was none to count.
_BACKEND = "django.contrib.auth.backends.ModelBackend"


@method_decorator(open_to_all, name="dispatch")
class LogIn(LoginView):
    """The log-in page; a book without an owner goes to its set-up instead."""

    template_name = "accounts/log_in.html"
    form_class = LogInForm
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Answer with the page, or send a new book's first visitor to the set-up."""
        if accounts.needs_owner():
            return redirect("set-up")
        return super().dispatch(request, *args, **kwargs)


def too_many_tries(
    request: HttpRequest, original: HttpResponse | None, credentials: dict[str, Any] | None
) -> HttpResponse:
    """Say that this name has to wait (called by the limit on log-ins)."""
    return render(request, "accounts/too_many_tries.html", status=429)


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
    login(request, owner, backend=_BACKEND)
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
