"""Every address of the book. A name's first word is the area of the navigation it marks."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from keeper.routes import (
    animals,
    clutches,
    collection,
    disputes,
    laboratories,
    lines,
    projects,
    prospects,
    register,
    sheets,
    today,
)
from keeper.views import accounts, shell
from keeper.views.today import home

urlpatterns = [
    path("", home, name="home"),
    path("log-in/", accounts.LogIn.as_view(), name="log-in"),
    path("log-out/", LogoutView.as_view(), name="log-out"),
    path("set-up/", accounts.set_up, name="set-up"),
    path("begin/", accounts.begin, name="begin"),
    path("theme/", shell.theme, name="theme"),
    *today.urlpatterns,
    *collection.urlpatterns,
    *animals.urlpatterns,
    *clutches.urlpatterns,
    *projects.urlpatterns,
    *sheets.urlpatterns,
    *lines.urlpatterns,
    *laboratories.urlpatterns,
    *disputes.urlpatterns,
    *prospects.urlpatterns,
    *register.urlpatterns,
]
