"""Addresses that a service manager, a proxy and a collector of figures ask."""

from django.urls import URLPattern, path

from keeper.pages.running import views

urlpatterns: list[URLPattern] = [
    path("alive/", views.alive, name="alive"),
    path("ready/", views.ready, name="ready"),
    path("metrics/", views.metrics, name="metrics"),
]
