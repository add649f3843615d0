"""Address of the page that the book opens at."""

from django.urls import URLPattern, path

from keeper.pages.today.views import home

urlpatterns: list[URLPattern] = [
    path("", home, name="home"),
]
