"""Addresses of logging in and out, of the first set-up, and of the accounts of the book."""

from django.contrib.auth.views import LogoutView
from django.urls import URLPattern, path

from keeper.pages.accounts import helpers, joining, myself, passkey_entry, passkeys, people
from keeper.pages.accounts import views as accounts

urlpatterns: list[URLPattern] = [
    path("log-in/", accounts.LogIn.as_view(), name="log-in"),
    path("log-in/code/", accounts.code, name="log-in-code"),
    path("log-in/passkey/", passkey_entry.log_in, name="log-in-passkey"),
    path("log-in/passkey/ask/", passkey_entry.ask, name="log-in-passkey-ask"),
    path("log-out/", LogoutView.as_view(), name="log-out"),
    path("set-up/", accounts.set_up, name="set-up"),
    path("begin/", accounts.begin, name="begin"),
    path("accounts/", helpers.helpers, name="home-accounts"),
    path("accounts/invite/", people.invite, name="home-accounts-invite"),
    path(
        "accounts/invitations/<int:pk>/take-back/",
        people.take_back,
        name="home-accounts-invitation-take-back",
    ),
    path("accounts/<int:pk>/", people.person, name="home-accounts-one"),
    path("accounts/<int:pk>/end/", people.end_log_in, name="home-accounts-end"),
    path(
        "accounts/<int:pk>/second/off/",
        people.second_factor_off,
        name="home-accounts-second-off",
    ),
    path(
        "accounts/<int:pk>/passkeys/remove/",
        passkeys.remove_all,
        name="home-accounts-passkeys-remove",
    ),
    path("accounts/<int:pk>/password/", helpers.password, name="home-accounts-password"),
    path("accounts/<int:pk>/switch/", helpers.switch, name="home-accounts-switch"),
    path("invitation/<str:token>/", joining.join, name="invitation"),
    path("me/", myself.myself, name="home-self"),
    path("me/password/", myself.password, name="home-self-password"),
    path("me/reach/", myself.reach, name="home-self-reach"),
    path("me/end/", myself.end_log_in, name="home-self-end"),
    path("me/second/", myself.second, name="home-self-second"),
    path("me/passkeys/", passkeys.passkeys, name="home-self-passkeys"),
    path("me/passkeys/add/", passkeys.add, name="home-self-passkeys-add"),
    path("me/passkeys/ask/", passkeys.ask, name="home-self-passkeys-ask"),
    path("me/passkeys/<int:pk>/remove/", passkeys.remove, name="home-self-passkeys-remove"),
]
