"""Addresses of animals, of what was entered about them, and of the daybook."""

from django.urls import URLPattern, path

from keeper.pages.animals import observations, photos
from keeper.pages.animals import telling as mixed
from keeper.pages.animals import views as animals
from keeper.pages.daybook import views as daybook
from keeper.pages.sources import views as sources

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
    path("animals/<int:pk>/look/", observations.observe, name="animals-observe"),
    path("animals/<int:pk>/statement/", sources.new_statement, name="animals-statement-new"),
    path("animals/<int:pk>/document/", sources.new_paper, name="animals-document-new"),
    path("animals/<int:pk>/photo/", photos.new, name="animals-photo-new"),
    path("animals/observation/<int:pk>/", observations.correct, name="animals-observation"),
    path("animals/statement/<int:pk>/", sources.statement, name="animals-statement"),
    path("animals/document/<int:pk>/", sources.paper, name="animals-document"),
    path("animals/document/<int:pk>/scan/", sources.scan, name="animals-scan"),
    path("animals/photo/<int:pk>/", photos.edit, name="animals-photo"),
    path("animals/photo/<int:pk>/picture.jpg", photos.picture, name="animals-picture"),
    path(
        "animals/<str:kind>/<int:pk>/withdraw/",
        observations.withdraw,
        name="animals-record-withdraw",
    ),
    path(
        "animals/<str:kind>/<int:pk>/restore/",
        observations.restore,
        name="animals-record-restore",
    ),
    path("daybook/", daybook.entries, name="daybook"),
    path("daybook/<int:pk>/", daybook.entry, name="daybook-entry"),
    path("daybook/<int:pk>/undo/", daybook.undo, name="daybook-undo"),
]
