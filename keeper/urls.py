"""Every address of the book. A name's first word is the area of the navigation it marks."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from keeper.pages.accounts import routes as today
from keeper.pages.accounts import views as accounts
from keeper.pages.animals import routes as animals
from keeper.pages.clutches import routes as clutches
from keeper.pages.collection import routes as collection
from keeper.pages.disputes import routes as disputes
from keeper.pages.frame import theme as shell
from keeper.pages.laboratories import routes as laboratories
from keeper.pages.lines import routes as lines
from keeper.pages.projects import routes as projects
from keeper.pages.prospects import routes as prospects
from keeper.pages.register import routes as register
from keeper.pages.sheets import routes as sheets
from keeper.pages.today.views import home

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
