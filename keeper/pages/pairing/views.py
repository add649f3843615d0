"""The pairing look-up."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from keeper.models import Animal
from keeper.pages.frame.picking import animal_named
from keeper.pages.frame.requests import require_safe
from keeper.pages.pairing.forms import PairingForm
from keeper.pages.pairing.page import pairing_page


@require_safe
def pairing(request: HttpRequest) -> HttpResponse:
    """Show what two animals give. Codes typed lead to an address that can be kept."""
    if "dam_code" in request.GET:
        form = PairingForm(request.GET)
        if form.is_valid():
            return redirect(_address(**form.cleaned_data))
        return render(request, "clutches/pairing.html", {"form": form})
    dam = animal_named(request.GET.get("dam"), sex="female")
    sire = animal_named(request.GET.get("sire"), sex="male")
    eggs = _eggs(request.GET.get("eggs"))
    form = PairingForm(initial={"dam_code": dam, "sire_code": sire, "eggs": eggs})
    if dam is None:
        return render(request, "clutches/pairing.html", {"form": form})
    if sire is not None and sire.species_id != dam.species_id:
        codes = {"dam_code": dam.code, "sire_code": sire.code}
        return render(request, "clutches/pairing.html", {"form": PairingForm(codes)})
    page = pairing_page(dam, sire, eggs=eggs)
    context = {"form": form, "page": page, "dam": dam, "sire": sire}
    return render(request, "clutches/pairing.html", context)


def _address(dam_code: Animal, sire_code: Animal | None, eggs: int | None) -> str:
    asked = {"dam": dam_code.pk, "sire": sire_code and sire_code.pk, "eggs": eggs}
    kept = {name: value for name, value in asked.items() if value}
    return f"{reverse('clutches-pairing')}?{urlencode(kept)}"


def _eggs(typed: str | None) -> int | None:
    number = int(typed) if typed and typed.isdecimal() and len(typed) < 4 else 0
    return number if 1 <= number <= 60 else None
