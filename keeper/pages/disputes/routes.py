"""Addresses of disputes, of what may be behind them, of base rates and of surprises."""

from django.urls import URLPattern, path

from keeper.pages.disputes import rates
from keeper.pages.disputes import views as disputes

urlpatterns: list[URLPattern] = [
    path("disputes/", disputes.disputes, name="home-disputes"),
    path("disputes/<int:pk>/", disputes.one, name="home-disputes-one"),
    path("disputes/<int:pk>/explanations/", disputes.explained, name="home-disputes-explanations"),
    path(
        "disputes/<int:pk>/explanations/<str:key>/",
        disputes.explanation,
        name="home-disputes-explanation",
    ),
    path("disputes/rates/", rates.base_rates, name="home-disputes-rates"),
    path("disputes/rates/<slug:kind>/", rates.base_rate, name="home-disputes-rate"),
    path("disputes/rates/<slug:kind>/reset/", rates.reset, name="home-disputes-rate-reset"),
    path("disputes/surprises/<int:pk>/", disputes.look_at, name="home-disputes-surprise"),
]
