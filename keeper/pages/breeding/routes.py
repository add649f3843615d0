"""Addresses of the way of a clutch."""

from django.urls import path

from keeper.pages.breeding import views as breeding

urlpatterns = [
    path("animals/<int:pk>/way/", breeding.season, name="animals-way"),
    path("animals/way/<int:pk>/", breeding.event, name="animals-way-noted"),
    path("clutches/<int:pk>/way/", breeding.clutch, name="clutches-way"),
    path("clutches/<int:pk>/way/young/", breeding.young, name="clutches-way-young"),
    path("clutches/<int:pk>/way/box/", breeding.box_new, name="clutches-way-box-new"),
    path("clutches/way/box/<int:pk>/", breeding.box, name="clutches-way-box"),
    path("clutches/way/<int:pk>/", breeding.step, name="clutches-way-noted"),
]
