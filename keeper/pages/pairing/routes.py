"""Address of the pairing look-up."""

from django.urls import URLPattern, path

from keeper.pages.pairing import views as pairing

urlpatterns: list[URLPattern] = [
    path("clutches/pairing/", pairing.pairing, name="clutches-pairing"),
]
