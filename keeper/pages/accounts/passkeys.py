"""One's own passkeys: which there are, a new one, and one taken away."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from keeper.access import account, owner_only
from keeper.domain.accounts import ceremonies, log_ins
from keeper.domain.accounts import passkeys as keys
from keeper.domain.accounts.ceremonies import NotAccepted
from keeper.domain.book.writing import Refused
from keeper.models import Account
from keeper.pages.accounts.entering import count_wrong, is_password, may_try, reached_by
from keeper.pages.accounts.page import passkeys_page
from keeper.pages.accounts.passkey_forms import AnswerForm, PasskeyForm, ProofForm
from keeper.pages.frame.requests import form_view, reading


@reading
@never_cache
@sensitive_post_parameters()
@form_view
def passkeys(request: HttpRequest) -> HttpResponse:
    """Show one's passkeys, and begin a new one."""
    form = PasskeyForm(
        request.POST or None,
        initial={"name": log_ins.in_words(request.headers.get("User-Agent", ""))},
        right=lambda typed: is_password(request, typed),
        shown=lambda answer: _wrong_with(request, answer),
    )
    if form.is_valid():
        try:
            keys.begin(
                account=account(request),
                name=form.cleaned_data["name"],
                session=request.session,
                at=reached_by(request),
            )
        except Refused as refused:
            form.add_error("name", str(refused))
        else:
            return redirect("home-self-passkeys-add")
    return _page(request, form)


@reading
@never_cache
@form_view
def add(request: HttpRequest) -> HttpResponse:
    """Let the device make a passkey, and keep its public half."""
    who, at = account(request), reached_by(request)
    if request.method != "POST":
        asked = ceremonies.waiting(request.session, "add", at)
        if asked is None:
            return redirect("home-self-passkeys")
        page = {
            "form": AnswerForm(),
            "name": asked.also["name"],
            "asks": keys.asked_to_make(who, asked),
        }
        return render(request, "accounts/passkey_new.html", page)
    form = AnswerForm(request.POST)
    try:
        asked = ceremonies.take(request.session, "add", at)
        if form.is_valid():
            keys.add(account=who, answer=form.cleaned_data["passkey_answer"], asked=asked)
            messages.success(request, f"You can log in with the passkey “{asked.also['name']}”.")
            return redirect("home-self-passkeys")
        wrong = " ".join(str(one) for one in form.non_field_errors())
    except Refused as refused:
        wrong = str(refused)
    messages.error(request, wrong)
    return _page(request, _empty(request.POST.get("name", "")[:40]))


@reading
@never_cache
@sensitive_post_parameters()
@form_view
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take one of one's passkeys away."""
    key = get_object_or_404(keys.of_account(account(request)), pk=pk)
    form = ProofForm(
        request.POST or None,
        right=lambda typed: is_password(request, typed),
        shown=lambda answer: _wrong_with(request, answer),
    )
    if form.is_valid():
        try:
            keys.remove(key=key, by=account(request))
        except Refused as refused:
            messages.error(request, str(refused))
        else:
            messages.success(request, f"Nobody comes in by “{key.name}” any more.")
        return redirect("home-self-passkeys")
    can_show = keys.usable(account(request), reached_by(request)).exists()
    page = {"form": form, "key": key, "can_show": can_show}
    return render(request, "accounts/passkey_remove.html", page)


@require_POST
def ask(request: HttpRequest) -> JsonResponse:
    """Tell a browser what to ask of one of one's passkeys, as a proof of who asks."""
    who, at = account(request), reached_by(request)
    have = keys.usable(who, at)
    if not have:
        said = "You have no passkey for this address. Type your password."
        return JsonResponse({"said": said}, status=409)
    asked = ceremonies.ask(request.session, "prove", at)
    return JsonResponse({"asks": ceremonies.to_use(asked, have)})


@owner_only
@require_POST
def remove_all(request: HttpRequest, pk: int) -> HttpResponse:
    """Take all passkeys of somebody away, as when their phone is lost."""
    one = get_object_or_404(Account, pk=pk)
    if one.is_owner:
        return redirect("home-self-passkeys")
    try:
        keys.remove_all(account=one, by=account(request))
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"{one.name} logs in without a passkey now.")
    return redirect("home-accounts-one", pk=one.pk)


def _wrong_with(request: HttpRequest, answer: str) -> str:
    """Return what is wrong with a passkey that is shown as a proof; nothing if it is one's own."""
    who = account(request)
    try:
        asked = ceremonies.take(request.session, "prove", reached_by(request))
        if not may_try(request, who):
            return "Too many tries. Wait a quarter of an hour, then begin again."
        keys.use(answer=answer, asked=asked, account=who)
    except NotAccepted as refused:
        count_wrong(request, who)
        return str(refused)
    except Refused as refused:
        return str(refused)
    return ""


def _empty(name: str) -> PasskeyForm:
    """Return a form to begin again with; what was typed stands in it."""
    return PasskeyForm(initial={"name": name}, right=lambda _: False, shown=lambda _: "")


def _page(request: HttpRequest, form: PasskeyForm) -> HttpResponse:
    shown = passkeys_page(account(request), reached_by(request))
    return render(request, "accounts/passkeys.html", {"form": form, "shown": shown})
