"""Addresses of laboratories and of their results on an animal."""

from django.urls import URLPattern, path

from keeper.pages.laboratories import views

urlpatterns: list[URLPattern] = [
    path("register/laboratories/", views.laboratories, name="register-laboratories"),
    path("register/laboratories/new/", views.edit_laboratory, name="register-laboratory-new"),
    path("register/laboratories/<int:pk>/", views.laboratory, name="register-laboratory"),
    path(
        "register/laboratories/<int:pk>/edit/",
        views.edit_laboratory,
        name="register-laboratory-edit",
    ),
    path(
        "register/laboratories/<int:pk>/withdraw/",
        views.withdraw_laboratory,
        name="register-laboratory-withdraw",
    ),
    path(
        "register/laboratories/<int:pk>/restore/",
        views.restore_laboratory,
        name="register-laboratory-restore",
    ),
    path("animals/<int:pk>/lab-test/", views.new_result, name="animals-lab-test-new"),
    path("animals/lab-test/<int:pk>/", views.result, name="animals-lab-test"),
]
