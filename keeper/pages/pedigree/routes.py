"""Addresses of pedigrees. Each is named for the area whose record it draws."""

from django.urls import URLPattern, path

from keeper.pages.pedigree import views as pedigree

urlpatterns: list[URLPattern] = [
    path("animals/<int:pk>/pedigree/", pedigree.of_animal, name="animals-pedigree"),
    path("clutches/<int:pk>/pedigree/", pedigree.of_clutch, name="clutches-pedigree"),
    path("projects/<int:pk>/pedigree/", pedigree.of_project, name="projects-pedigree"),
    path("register/lines/<int:pk>/pedigree/", pedigree.of_line, name="register-line-pedigree"),
]
