"""Addresses around today's page: the accounts of the book."""

from django.urls import URLPattern, path

from keeper.pages.accounts import helpers

urlpatterns: list[URLPattern] = [
    path("accounts/", helpers.helpers, name="home-accounts"),
    path("accounts/<int:pk>/password/", helpers.password, name="home-accounts-password"),
    path("accounts/<int:pk>/switch/", helpers.switch, name="home-accounts-switch"),
]
