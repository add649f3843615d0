"""Addresses of the collection: its list, what leaves it, and the views with a name."""

from django.urls import URLPattern, path, re_path

from keeper.pages.collection import views as collection
from keeper.pages.collection.together import together

urlpatterns: list[URLPattern] = [
    path("animals/", collection.collection, name="animals"),
    path("animals/paper/", collection.on_paper, name="animals-paper"),
    re_path(r"^animals/export\.(?P<kind>csv|xlsx)$", collection.as_file, name="animals-export"),
    path("animals/labels/list/", collection.labels, name="animals-labels-list"),
    path("animals/together/", together, name="animals-together"),
    path("animals/views/", collection.views, name="animals-views"),
    path("animals/views/new/", collection.save_view, name="animals-views-new"),
    path("animals/views/<int:pk>/name/", collection.rename_view, name="animals-views-rename"),
    path("animals/views/<int:pk>/remove/", collection.remove_view, name="animals-views-remove"),
]
