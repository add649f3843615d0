"""Addresses of clutches and their hatch days."""

from django.urls import path

from keeper.pages.clutches import hatching
from keeper.pages.clutches import views as clutches

urlpatterns = [
    path("clutches/", clutches.clutches, name="clutches"),
    path("clutches/new/", clutches.new, name="clutches-new"),
    path("clutches/file.csv", clutches.as_file, name="clutches-file"),
    path("clutches/pick/", clutches.pick, name="clutches-pick"),
    path("clutches/<int:pk>/", clutches.one, name="clutches-one"),
    path("clutches/<int:pk>/edit/", clutches.edit, name="clutches-edit"),
    path("clutches/<int:pk>/withdraw/", clutches.withdraw, name="clutches-withdraw"),
    path("clutches/<int:pk>/hatch/", hatching.hatch, name="clutches-hatch"),
    path("clutches/rows/<int:pk>/record/", hatching.record, name="clutches-record"),
]
