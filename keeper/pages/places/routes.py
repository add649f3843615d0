"""Addresses of places."""

from django.urls import URLPattern, path

from keeper.pages.places import views

urlpatterns: list[URLPattern] = [
    path("animals/places/", views.tree, name="animals-places"),
    path("animals/places/new/", views.new, name="animals-places-new"),
    path("animals/places/as-written/", views.enter_written, name="animals-places-written"),
    path("animals/places/<int:pk>/", views.one, name="animals-places-one"),
    path("animals/places/<int:pk>/change/", views.edit, name="animals-places-edit"),
    path("animals/places/<int:pk>/withdraw/", views.withdraw, name="animals-places-withdraw"),
]
