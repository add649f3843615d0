"""Addresses of lines compared: the table of a look's lines, and each two of them."""

from django.urls import URLPattern, path

from keeper.pages.lines import reports
from keeper.pages.lines import views as compatibility

urlpatterns: list[URLPattern] = [
    path("register/traits/<int:trait>/compared/", compatibility.lines, name="register-lines"),
    path(
        "register/compared/<int:one>/<int:other>/", compatibility.pair, name="register-lines-pair"
    ),
    path(
        "register/compared/<int:one>/<int:other>/open/",
        compatibility.reopen,
        name="register-lines-open",
    ),
    path(
        "register/compared/<int:one>/<int:other>/words/new/",
        compatibility.new_word,
        name="register-lines-word-new",
    ),
    path(
        "register/compared/<int:one>/<int:other>/report/",
        reports.write,
        name="register-lines-report",
    ),
    path(
        "register/compared/<int:one>/<int:other>/reports/new/",
        reports.bring_in,
        name="register-lines-report-new",
    ),
    path("register/compared/words/<int:pk>/", compatibility.edit_word, name="register-lines-word"),
    path(
        "register/compared/words/<int:pk>/withdraw/",
        compatibility.withdraw_word,
        name="register-lines-word-withdraw",
    ),
    path(
        "register/compared/words/<int:pk>/restore/",
        compatibility.restore_word,
        name="register-lines-word-restore",
    ),
]
