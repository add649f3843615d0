"""Address of the theme switch, which every page shows."""

from django.urls import URLPattern, path

from keeper.pages.frame.theme import theme

urlpatterns: list[URLPattern] = [
    path("theme/", theme, name="theme"),
]
