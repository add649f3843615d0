"""Addresses of the daybook."""

from django.urls import URLPattern, path

from keeper.pages.daybook import views as daybook

urlpatterns: list[URLPattern] = [
    path("daybook/", daybook.entries, name="daybook"),
    path("daybook/<int:pk>/", daybook.entry, name="daybook-entry"),
    path("daybook/<int:pk>/undo/", daybook.undo, name="daybook-undo"),
]
