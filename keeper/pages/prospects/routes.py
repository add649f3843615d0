"""Addresses of animals that one thinks of buying."""

from django.urls import URLPattern, path

from keeper.pages.prospects import views as prospects

urlpatterns: list[URLPattern] = [
    path("prospects/", prospects.prospects, name="animals-prospects"),
    path("prospects/new/", prospects.new, name="animals-prospects-new"),
    path("prospects/<int:pk>/", prospects.one, name="animals-prospects-one"),
    path("prospects/<int:pk>/change/", prospects.change, name="animals-prospects-edit"),
    path("prospects/<int:pk>/message/", prospects.message, name="animals-prospects-message"),
    path("prospects/<int:pk>/let-go/", prospects.let_go, name="animals-prospects-let-go"),
    path("prospects/<int:pk>/take-up/", prospects.take_up, name="animals-prospects-take-up"),
    path("prospects/<int:pk>/buy/", prospects.buy, name="animals-prospects-buy"),
]
