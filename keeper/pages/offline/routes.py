"""Addresses of work without a connection; the worker's is at the top, so that it serves all."""

from django.urls import URLPattern, path

from keeper.pages.offline import views

urlpatterns: list[URLPattern] = [
    path("me/offline/", views.device, name="home-self-offline"),
    path("me/offline/now/", views.now, name="home-self-offline-now"),
    path("me/offline/ahead/", views.ahead, name="home-self-offline-ahead"),
    path("me/waiting/", views.waiting, name="home-self-waiting"),
    path("no-connection/", views.no_connection, name="offline-none"),
    path("manifest.webmanifest", views.manifest, name="offline-manifest"),
    path("worker.js", views.worker, name="offline-worker"),
]
