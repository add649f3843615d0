"""Addresses of signed papers of other books."""

from django.urls import URLPattern, path

from keeper.pages.travel import views

urlpatterns: list[URLPattern] = [
    path("animals/signed-papers/", views.arrivals, name="animals-signed-papers"),
    path("animals/signed-papers/<int:pk>/", views.one, name="animals-signed-paper"),
    path("animals/signed-papers/<int:pk>/sheet.json", views.file, name="animals-signed-paper-file"),
]
