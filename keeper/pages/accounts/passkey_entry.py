"""Logging in with a passkey: in place of name and password, or in place of the code after it."""

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from keeper.access import open_to_all
from keeper.domain.accounts import ceremonies, passkeys
from keeper.domain.accounts.ceremonies import NotAccepted
from keeper.domain.book.writing import Refused
from keeper.models import Account
from keeper.pages.accounts.entering import (
    count_wrong,
    following_half,
    following_of,
    half_of,
    let_in,
    may_try,
    reached_by,
    too_many_tries,
)
from keeper.pages.accounts.forms import CodeForm, LogInForm
from keeper.pages.accounts.page import passkey_for_code, passkey_for_log_in
from keeper.pages.accounts.passkey_forms import AnswerForm
from keeper.pages.frame.requests import form_view

_LATE = "That took too long. Begin again with your password."


@open_to_all
@never_cache
@require_POST
def ask(request: HttpRequest) -> JsonResponse:
    """Tell a browser what to ask of a passkey; after the password, of one of that account."""
    at = reached_by(request)
    half = _half(request)
    if request.user.is_authenticated:
        said = "You are logged in already. Go on to the book."
        return JsonResponse({"said": said}, status=409)
    if _is_second(request) and half is None:
        return JsonResponse({"said": _LATE}, status=409)
    try:
        if half is None:
            asks = passkeys.ask_stranger(request.session, at)
        else:
            asked = ceremonies.ask(request.session, "second", at)
            asks = ceremonies.to_use(asked, passkeys.usable(half, at))
    except Refused as refused:
        return JsonResponse({"said": str(refused)}, status=409)
    return JsonResponse({"asks": asks})


@open_to_all
@never_cache
@sensitive_post_parameters()
@form_view
def log_in(request: HttpRequest) -> HttpResponse:
    """Let in whoever shows a passkey that signed what was asked."""
    half = _half(request)
    gone = _is_second(request) and half is None
    if request.method != "POST" or gone or request.user.is_authenticated:
        return redirect("log-in")
    at = reached_by(request)
    form = AnswerForm(request.POST)
    if not form.is_valid():
        return _again(request, form, half)
    answer = form.cleaned_data["passkey_answer"]
    try:
        asked = ceremonies.take(request.session, "second" if half else "log in", at)
        if not may_try(request, half or passkeys.whose(answer, at)):
            return too_many_tries(request, None, None)
        who = passkeys.use(answer=answer, asked=asked, account=half)
    except NotAccepted as refused:
        count_wrong(request, refused.account)
        form.add_error(None, str(refused))
    except Refused as refused:
        form.add_error(None, str(refused))
    else:
        following = following_half(request) if half else following_of(request)
        let_in(request, who, by="a password and a passkey" if half else "a passkey")
        return redirect(following)
    return _again(request, form, half)


def _is_second(request: HttpRequest) -> bool:
    return "second" in request.POST


def _half(request: HttpRequest) -> Account | None:
    """Return who gave the password before, where the passkey comes after it."""
    return half_of(request) if _is_second(request) else None


def _again(request: HttpRequest, form: AnswerForm, half: Account | None) -> HttpResponse:
    """Show the page that the passkey was asked for on, with what is wrong."""
    at = reached_by(request)
    if half is not None:
        page = {"form": CodeForm(), "passkey": passkey_for_code(half, at, form)}
        return render(request, "accounts/code.html", page)
    page = {
        "form": LogInForm(request),
        "passkey": passkey_for_log_in(at, form),
        "next": request.POST.get("next", ""),
    }
    return render(request, "accounts/log_in.html", page)
