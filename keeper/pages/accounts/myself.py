"""One's own page: what one may do and see, where one is logged in, password, second factor."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from keeper import NAME
from keeper.access import account
from keeper.domain.accounts import log_ins, passkeys, second_factor
from keeper.domain.accounts import writes as accounts
from keeper.domain.book.writing import Refused
from keeper.pages.accounts.entering import is_password
from keeper.pages.accounts.forms import OwnPasswordForm, PasswordForm, ReachForm, TurnOnForm
from keeper.pages.accounts.page import drawing_of, person_page
from keeper.pages.frame.requests import form_view, reading, require_safe

# Where a session keeps the secret of a second factor that is not on yet.
_SECRET = "secret"


@never_cache
@require_safe
def myself(request: HttpRequest) -> HttpResponse:
    """Show one's own account."""
    shown = person_page(account(request), this=request.session.session_key)
    return render(request, "accounts/myself.html", {"shown": shown})


@reading
@never_cache
@sensitive_post_parameters()
@form_view
def password(request: HttpRequest) -> HttpResponse:
    """Change one's password; every other log-in ends."""
    who = account(request)
    form = OwnPasswordForm(
        request.POST or None, account=who, right=lambda typed: is_password(request, typed)
    )
    if form.is_valid():
        here = request.session.session_key
        new = form.cleaned_data["password"]
        accounts.give_password(account=who, password=new, by=who, but=here)
        update_session_auth_hash(request, who)
        messages.success(request, "Your password is changed. Every other log-in has ended.")
        if passkeys.of_account(who).exists():
            messages.warning(request, "Your passkeys still let in: look whether you know them all.")
        return redirect("home-self")
    return render(request, "accounts/own_password.html", {"form": form})


@reading
@never_cache
@form_view
def reach(request: HttpRequest) -> HttpResponse:
    """Say how buyers reach one, as one's sheets print it."""
    who = account(request)
    form = ReachForm(request.POST or None, initial={"reach": who.reach})
    if form.is_valid():
        accounts.say_reach(account=who, reach=form.cleaned_data["reach"])
        messages.success(request, "What you issue from now on says so. What was issued stays.")
        return redirect("home-self")
    return render(request, "accounts/reach.html", {"form": form})


@require_POST
def end_log_in(request: HttpRequest) -> HttpResponse:
    """End one of one's log-ins, or all others."""
    who, key = account(request), request.POST.get("key", "")
    if key:
        log_ins.end(account=who, key=key)
    else:
        log_ins.end_all(account=who, but=request.session.session_key)
    messages.success(request, "You are logged out there.")
    return redirect("home-self")


@reading
@never_cache
@sensitive_post_parameters()
@form_view
def second(request: HttpRequest) -> HttpResponse:
    """Turn the second factor on; once it is, off again, or make new recovery codes."""
    who = account(request)
    if second_factor.has_second_factor(who):
        return _while_on(request)
    if request.method != "POST" or _SECRET not in request.session:
        request.session[_SECRET] = second_factor.new_secret()
    secret = str(request.session[_SECRET])
    form = TurnOnForm(request.POST or None, right=lambda typed: is_password(request, typed))
    if form.is_valid():
        try:
            codes = second_factor.turn_on(
                account=who, secret=secret, code=form.cleaned_data["code"]
            )
        except Refused as refused:
            form.add_error("code", str(refused))
        else:
            del request.session[_SECRET]
            return render(request, "accounts/recovery_codes.html", {"codes": codes})
    address = second_factor.address_of(secret, who, NAME)
    drawn = drawing_of(address)
    spelled = " ".join(secret[at : at + 4] for at in range(0, len(secret), 4))
    return render(
        request,
        "accounts/second_on.html",
        {"form": form, "drawn": drawn, "secret": spelled},
    )


def _while_on(request: HttpRequest) -> HttpResponse:
    who = account(request)
    form = PasswordForm(request.POST or None, right=lambda typed: is_password(request, typed))
    if form.is_valid():
        try:
            if "renew" in request.POST:
                codes = second_factor.renew_codes(account=who)
                return render(request, "accounts/recovery_codes.html", {"codes": codes})
            second_factor.turn_off(account=who, by=who)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, "You log in with your password alone now.")
            return redirect("home-self")
    left = second_factor.codes_left(who)
    return render(request, "accounts/second_off.html", {"form": form, "left": left})
