"""Addresses of sale sheets."""

from django.urls import path, re_path

from keeper.pages.sheets import views as sheets

urlpatterns = [
    path("animals/<int:pk>/sheet/", sheets.make, name="animals-sheet"),
    re_path(
        r"^animals/(?P<pk>\d+)/sheet/draft-(?P<size>a4|a5)\.pdf$",
        sheets.draft_pdf,
        name="animals-sheet-draft",
    ),
    path("sheets/<int:pk>/", sheets.one, name="sheets-one"),
    path("sheets/<int:pk>/withdraw/", sheets.withdraw, name="sheets-withdraw"),
    re_path(r"^sheets/(?P<pk>\d+)/(?P<size>a4|a5)\.pdf$", sheets.pdf, name="sheets-pdf"),
]
