"""Addresses of husbandry."""

from django.urls import URLPattern, path

from keeper.pages.husbandry import rounds, views

urlpatterns: list[URLPattern] = [
    path("animals/round/", rounds.all_at_once, name="animals-round"),
    path("animals/round/each/", rounds.one_by_one, name="animals-round-each"),
    path("animals/round/paper/", rounds.on_paper, name="animals-round-paper"),
    path("animals/<int:pk>/husbandry/", views.one, name="animals-husbandry"),
    path("animals/<int:pk>/husbandry/<slug:kind>/", views.new, name="animals-husbandry-new"),
    path("animals/husbandry/<slug:kind>/<int:pk>/", views.correct, name="animals-husbandry-record"),
    path(
        "animals/husbandry/<slug:kind>/<int:pk>/withdraw/",
        views.withdraw,
        name="animals-husbandry-record-withdraw",
    ),
]
