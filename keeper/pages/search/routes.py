"""The address of the search."""

from django.urls import URLPattern, path

from keeper.pages.search import views as search

urlpatterns: list[URLPattern] = [
    path("search/", search.search, name="search"),
]
