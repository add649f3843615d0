"""Addresses of labels, and those that stand in their codes."""

from django.urls import URLPattern, path

from keeper.pages.labels import views

urlpatterns: list[URLPattern] = [
    path("animals/labels/", views.labels, name="animals-labels"),
    path("animals/labels/new/", views.new, name="animals-labels-new"),
    path("animals/labels/<int:pk>/", views.run, name="animals-labels-run"),
    path("animals/labels/<int:pk>/labels.pdf", views.pdf, name="animals-labels-pdf"),
    path("animals/labels/sheets/new/", views.sheet_new, name="animals-labels-sheet-new"),
    path("animals/labels/sheets/<int:pk>/", views.sheet, name="animals-labels-sheet"),
    path(
        "animals/labels/sheets/<int:pk>/withdraw/",
        views.sheet_withdraw,
        name="animals-labels-sheet-withdraw",
    ),
    # What stands in a code is on paper for years: these two stay as they are.
    path("at/<str:kind>/<str:mark>/", views.scanned, name="animals-at"),
    path("at/<str:kind>/<str:mark>/<int:tub>/", views.scanned, name="animals-at-tub"),
]
