"""Addresses of archives."""

from django.urls import URLPattern, path

from keeper.pages.archives import views

urlpatterns: list[URLPattern] = [
    path("archives/", views.archives, name="home-archives"),
    path("archives/book.zip", views.as_file, name="home-archives-file"),
    path("archives/open/", views.send, name="home-archives-open"),
    path("archives/inside/", views.look_inside, name="home-archives-inside"),
]
