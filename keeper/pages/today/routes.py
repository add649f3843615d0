"""Addresses of the page that the book opens at, of all that is due, and of its calendar."""

from django.urls import URLPattern, path

from keeper.pages.today import chores, feeds
from keeper.pages.today.views import home

urlpatterns: list[URLPattern] = [
    path("", home, name="home"),
    path("due/", chores.due, name="home-due"),
    path("due/new/", chores.new, name="home-due-new"),
    path("due/<int:pk>/", chores.change, name="home-due-chore"),
    path("due/<int:pk>/withdraw/", chores.withdraw, name="home-due-chore-withdraw"),
    path("me/calendar/", feeds.mine, name="home-self-calendar"),
    path("calendar/<str:token>.ics", feeds.feed, name="calendar"),
]
