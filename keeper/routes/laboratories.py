"""Addresses of this area of the book."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
