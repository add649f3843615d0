"""The public page of what is for sale: switched on and off, and as anybody sees it."""

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from keeper.access import account, open_to_all, owner_only
from keeper.domain.stock import public as domain
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import written
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.frame.shell import bare_page
from keeper.pages.stock.forms import PublicForm


@owner_only
@form_view
def settings_of(request: HttpRequest) -> HttpResponse:
    """Switch the public page on or off, or make it anew."""
    found, by = domain.page(), account(request)
    form = PublicForm(request.POST if request.method == "POST" else None, found=found)
    if form.is_valid():
        entry = written(
            lambda: (
                domain.switch_off(by=by)
                if "off" in request.POST
                else domain.make(prices=form.cleaned_data["prices"], by=by)
            ),
            form,
        )
        if entry is not None:
            return after_save("animals-stock-public", entry)
    address = reverse("papers-stock", args=[found.code]) if found else ""
    context = {
        "form": form,
        "found": found,
        "count": len(domain.shown(found).animals) if found else 0,
        "address": address,
        "outside": f"{settings.PUBLIC_ADDRESS}{address}" if settings.PUBLIC_ADDRESS else "",
        "moved": just_moved(request),
    }
    return render(request, "stock/public_settings.html", context)


@open_to_all
@require_safe
def page(request: HttpRequest, code: str) -> HttpResponse:
    """Show what is for sale to whoever has the address."""
    found = domain.page()
    if found is None or found.code != code:
        raise Http404("There is no such page.")
    return bare_page(request, "stock/public.html", {"shown": domain.shown(found)})
