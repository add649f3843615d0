"""What is said when a request cannot be answered."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def form_expired(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say that a form was too old to be trusted, and how to keep what was typed."""
    return render(request, "403_form.html", status=403)
