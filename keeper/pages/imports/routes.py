"""Addresses of tables that are brought in."""

from django.urls import URLPattern, path

from keeper.pages.imports import rows, views

urlpatterns: list[URLPattern] = [
    path("imports/", views.imports, name="animals-imports"),
    path("imports/<int:pk>/", views.one, name="animals-imports-one"),
    path("imports/<int:pk>/columns/", views.columns, name="animals-imports-columns"),
    path("imports/<int:pk>/questions/", views.questions, name="animals-imports-questions"),
    path("imports/<int:pk>/rows/<int:number>/", rows.mend, name="animals-imports-row"),
    path("imports/<int:pk>/leave-out/", rows.leave_out, name="animals-imports-leave-out"),
    path("imports/<int:pk>/outcome/", views.outcome, name="animals-imports-outcome"),
    path("imports/<int:pk>/write/", views.write, name="animals-imports-write"),
    path("imports/<int:pk>/throw-away/", views.throw_away, name="animals-imports-throw-away"),
]
