"""The calendar of what is due: one's own page of it, and the secret address that it is read at."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache

from keeper.access import account, contact_names, open_to_all
from keeper.discretion import Reader, read_by
from keeper.domain.book.writing import Refused
from keeper.domain.today import calendar
from keeper.pages.frame.requests import form_view, reading, require_safe
from keeper.pages.today.due import address_of


@reading
@never_cache
@form_view
def mine(request: HttpRequest) -> HttpResponse:
    """Make the address of one's calendar, make it anew, or switch it off."""
    who = account(request)
    link = ""
    if request.method == "POST" and "off" in request.POST:
        try:
            calendar.switch_off(account=who)
        except Refused as refused:
            messages.error(request, str(refused))
        else:
            messages.success(request, "Your calendar is off: its address leads nowhere now.")
        return redirect("home-self-calendar")
    if request.method == "POST":
        token = calendar.make_address(account=who)
        link = request.build_absolute_uri(reverse("calendar", kwargs={"token": token}))
    context = {"link": link, "feed": calendar.feed_of(who), "reached": calendar.REACHED}
    return render(request, "today/calendar.html", context)


@open_to_all
@never_cache
@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """Answer with the calendar of whoever's secret this is; with nothing to anybody else."""
    who = calendar.account_of(token)
    if who is None:
        raise Http404
    with read_by(Reader(who.may_see_people, who.may_see_prices, contact_names)):
        made = calendar.calendar(
            timezone.localdate(), address=lambda one: request.build_absolute_uri(address_of(one))
        )
    return HttpResponse(made, content_type="text/calendar; charset=utf-8")
