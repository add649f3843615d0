"""Addresses of the season's pairings."""

from django.urls import path

from keeper.pages.season import views as season

urlpatterns = [
    path("projects/season/", season.season, name="projects-season"),
    path("projects/season/new/", season.new, name="projects-season-new"),
    path("projects/season/<int:pk>/", season.one, name="projects-season-pairing"),
]
