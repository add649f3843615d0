"""Addresses of what to prove."""

from django.urls import path

from keeper.pages.proving import views as proving

urlpatterns = [
    path("projects/proving/", proving.listed, name="projects-proving"),
    path("projects/proving/<int:animal>/<int:trait>/", proving.one, name="projects-proving-one"),
]
