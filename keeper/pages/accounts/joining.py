"""Coming into the book by an invitation."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from keeper.access import open_to_all
from keeper.domain.accounts import inviting
from keeper.domain.accounts.writes import NameTaken
from keeper.domain.book.writing import Refused
from keeper.models import Account
from keeper.pages.accounts.entering import let_in
from keeper.pages.accounts.forms import JoinForm
from keeper.pages.accounts.page import in_words
from keeper.pages.frame.requests import form_view


@open_to_all
@never_cache
@sensitive_post_parameters()
@form_view
def join(request: HttpRequest, token: str) -> HttpResponse:
    """Let whoever has the link choose a name and a password."""
    invitation = inviting.invitation_of(token)
    if invitation is None:
        return render(request, "accounts/invitation_over.html", status=410)
    form = JoinForm(request.POST or None)
    if form.is_valid():
        name, password = form.cleaned_data["name"], form.cleaned_data["password"]
        try:
            account = inviting.join(token=token, name=name, password=password)
        except NameTaken:
            form.add_error("name", "There is an account of this name already. Choose another.")
        except Refused:
            return render(request, "accounts/invitation_over.html", status=410)
        else:
            let_in(request, account)
            return redirect("home")
    as_what = Account(
        role=invitation.role,
        sees_people=invitation.sees_people,
        sees_prices=invitation.sees_prices,
    )
    context = {"form": form, "invitation": invitation, "may": in_words(as_what)}
    # The link is a key. No cache keeps the page, and no other site is told its address: every page
    # says "same-origin" to that.
    return render(request, "accounts/join.html", context)
