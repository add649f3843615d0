"""Addresses of the collection's genetic health."""

from django.urls import path

from keeper.pages.diversity import views as diversity

urlpatterns = [
    path("collection/diversity/", diversity.diversity, name="animals-diversity"),
    path(
        "collection/diversity/<slug:kind>.csv", diversity.as_file, name="animals-diversity-export"
    ),
]
