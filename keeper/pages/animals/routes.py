"""Addresses of animals and of what was entered about them."""

from django.urls import URLPattern, path

from keeper.pages.animals import looks, photos
from keeper.pages.animals import telling as mixed
from keeper.pages.animals import views as animals

urlpatterns: list[URLPattern] = [
    path("animals/new/", animals.new, name="animals-new"),
    path("animals/<int:pk>/", animals.one, name="animals-one"),
    path("animals/<int:pk>/change/", animals.edit, name="animals-edit"),
    path("animals/<int:pk>/withdraw/", animals.withdraw, name="animals-withdraw"),
    path("animals/<int:pk>/restore/", animals.restore, name="animals-restore"),
    path("animals/<int:pk>/history/", animals.history, name="animals-history"),
    path("animals/<int:pk>/case.json", animals.case, name="animals-case"),
    path("animals/<int:pk>/grounds/<int:trait>/", animals.grounds, name="animals-grounds"),
    path("animals/<int:pk>/telling/<int:trait>/", mixed.telling, name="animals-telling"),
    path("animals/<int:pk>/look/", looks.observe, name="animals-observe"),
    path("animals/<int:pk>/photos/", photos.by_age, name="animals-photos"),
    path("animals/<int:pk>/photo/", photos.new, name="animals-photo-new"),
    path("animals/whole-look/<int:pk>/", looks.correct_look, name="animals-look"),
    path("animals/observation/<int:pk>/", looks.correct, name="animals-observation"),
    path("animals/photo/<int:pk>/", photos.edit, name="animals-photo"),
    path("animals/photo/<int:pk>/picture.jpg", photos.picture, name="animals-picture"),
    path(
        "animals/<str:kind>/<int:pk>/withdraw/",
        looks.withdraw,
        name="animals-record-withdraw",
    ),
    path(
        "animals/<str:kind>/<int:pk>/restore/",
        looks.restore,
        name="animals-record-restore",
    ),
]
