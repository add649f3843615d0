"""The accounts of the book, for its owner: add a helper, switch one off, give a new password."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.db.models import Case, QuerySet, Value, When
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from keeper.access import account, owner_only
from keeper.domain.accounts import writes as accounts
from keeper.domain.accounts.inviting import open_invitations
from keeper.domain.book.writing import Refused
from keeper.models import Account, Role
from keeper.pages.accounts.forms import HelperForm, NewPasswordForm
from keeper.pages.accounts.page import NOTES, in_words
from keeper.pages.frame.requests import form_view


@owner_only
@sensitive_post_parameters()
@form_view
def helpers(request: HttpRequest) -> HttpResponse:
    """List the accounts and make new ones."""
    form = HelperForm(request.POST or None)
    if form.is_valid():
        name, password = form.cleaned_data["name"], form.cleaned_data["password"]
        try:
            accounts.add_helper(name=name, password=password, by=account(request))
        except accounts.NameTaken:
            form.add_error("name", "There is an account of this name already. Choose another.")
        else:
            messages.success(request, f"{name} can log in with that name and password.")
            return redirect("home-accounts")
    people = [(one, in_words(one)) for one in _people()]
    context = {"form": form, "people": people, "invitations": open_invitations(), "notes": NOTES}
    return render(request, "accounts/helpers.html", context)


def _people() -> QuerySet[Account]:
    """Return the accounts, the owner's first."""
    owner_first = Case(When(role=Role.OWNER, then=Value(0)), default=Value(1))
    return Account.objects.select_related("invited_by__made_by").order_by(owner_first, "name")


@owner_only
@sensitive_post_parameters()
@form_view
def password(request: HttpRequest, pk: int) -> HttpResponse:
    """Give an account a new password."""
    person = get_object_or_404(Account, pk=pk)
    form = NewPasswordForm(request.POST or None, account=person)
    if form.is_valid():
        here = request.session.session_key if person == account(request) else None
        password = form.cleaned_data["password"]
        accounts.give_password(account=person, password=password, by=account(request), but=here)
        if person == account(request):
            # The owner stays where they are; their other devices have to log in anew.
            update_session_auth_hash(request, person)
        messages.success(request, f"{person.name} has a new password.")
        return redirect("home-accounts")
    return render(request, "accounts/password.html", {"form": form, "person": person})


@owner_only
@require_POST
def switch(request: HttpRequest, pk: int) -> HttpResponse:
    """Switch an account off or on again."""
    person = get_object_or_404(Account, pk=pk)
    try:
        if request.POST.get("to") == "on":
            accounts.switch_on(account=person, by=account(request))
        else:
            accounts.switch_off(account=person, by=account(request))
    except Refused as refusal:
        messages.error(request, str(refusal))
    return redirect("home-accounts")
