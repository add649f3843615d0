"""Addresses of what sources say of an animal, of their papers, and of contacts."""

from django.urls import URLPattern, path

from keeper.pages.sources import contacts, erasure
from keeper.pages.sources import views as sources

urlpatterns: list[URLPattern] = [
    path("animals/<int:pk>/statement/", sources.new_statement, name="animals-statement-new"),
    path("animals/<int:pk>/document/", sources.new_paper, name="animals-document-new"),
    path("animals/statement/<int:pk>/", sources.statement, name="animals-statement"),
    path("animals/document/<int:pk>/", sources.paper, name="animals-document"),
    path("animals/document/<int:pk>/scan/", sources.scan, name="animals-scan"),
    path("register/contacts/", contacts.contacts, name="register-contacts"),
    path("register/contacts/new/", contacts.edit_contact, name="register-contact-new"),
    path("register/contacts/<int:pk>/", contacts.contact, name="register-contact"),
    path("register/contacts/<int:pk>/edit/", contacts.edit_contact, name="register-contact-edit"),
    path("register/contacts/<int:pk>/erase/", erasure.erase, name="register-contact-erase"),
    path("register/contacts/<int:pk>/data.zip", erasure.data, name="register-contact-data"),
]
