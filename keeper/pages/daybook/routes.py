"""Addresses of the daybook."""

from django.urls import URLPattern, path

from keeper.pages.daybook import views as daybook

urlpatterns: list[URLPattern] = [
    path("daybook/", daybook.entries, name="daybook"),
    path("daybook/withdrawn/", daybook.withdrawn, name="daybook-withdrawn"),
    path(
        "daybook/withdrawn/<str:kind>/<int:pk>/bring-back/",
        daybook.bring_back,
        name="daybook-withdrawn-bring-back",
    ),
    path("daybook/<int:pk>/", daybook.entry, name="daybook-entry"),
    path("daybook/<int:pk>/undo/", daybook.undo, name="daybook-undo"),
]
