"""Addresses of copies of the book."""

from django.urls import URLPattern, path

from keeper.pages.backups import views

urlpatterns: list[URLPattern] = [
    path("backups/", views.backups, name="home-backups"),
    path("backups/make/", views.make, name="home-backups-make"),
    path("backups/settings/", views.wishes, name="home-backups-settings"),
    path("backups/passphrase/", views.passphrase, name="home-backups-passphrase"),
    path("backups/receive/", views.receive, name="home-backups-receive"),
    path("backups/<slug:place>/<str:name>/", views.one, name="home-backups-one"),
    path("backups/<slug:place>/<str:name>/file/", views.file, name="home-backups-file"),
]
