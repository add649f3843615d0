"""Addresses of what an animal could be bred to."""

from django.urls import URLPattern, path

from keeper.pages.mates import views as mates

urlpatterns: list[URLPattern] = [
    path("animals/<int:pk>/mates/", mates.one, name="animals-mates"),
    path("mates/", mates.asked, name="animals-mates-asked"),
]
