"""Addresses of logging in and out, of the first set-up, and of the accounts of the book."""

from django.contrib.auth.views import LogoutView
from django.urls import URLPattern, path

from keeper.pages.accounts import helpers
from keeper.pages.accounts import views as accounts

urlpatterns: list[URLPattern] = [
    path("log-in/", accounts.LogIn.as_view(), name="log-in"),
    path("log-out/", LogoutView.as_view(), name="log-out"),
    path("set-up/", accounts.set_up, name="set-up"),
    path("begin/", accounts.begin, name="begin"),
    path("accounts/", helpers.helpers, name="home-accounts"),
    path("accounts/<int:pk>/password/", helpers.password, name="home-accounts-password"),
    path("accounts/<int:pk>/switch/", helpers.switch, name="home-accounts-switch"),
]
