"""Addresses of the figures of seasons and years."""

from django.urls import URLPattern, path

from keeper.pages.figures import views

urlpatterns: list[URLPattern] = [
    path("clutches/figures/", views.rates, name="clutches-figures"),
    path("clutches/figures/looks/", views.looks, name="clutches-figures-looks"),
    path("clutches/figures/record/", views.record, name="clutches-figures-record"),
]
