"""Contacts: who animals come from or go to, what they said, and what became of it."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from keeper.access import account
from keeper.domain.book.history import changes_of
from keeper.domain.book.typed import typed
from keeper.domain.prospects.queries import of_source as prospects_of
from keeper.domain.register import queries as read
from keeper.domain.register import writes
from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Contact
from keeper.pages.frame.editing import Editing, edited, section
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import just_moved
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.sources.forms import ContactForm
from keeper.pages.sources.records import record_page
from keeper.pages.sources.table import contacts_table

_PAGE = 50


@require_safe
def contacts(request: HttpRequest) -> HttpResponseBase:
    """List the contacts, by name, found by a part of it."""
    wanted = typed(request.GET.get("q"))
    found = Contact.objects.live().order_by("name", "pk")
    if wanted:
        found = found.filter(name__icontains=wanted)
    if wants_file(request):
        return csv_file("contacts", contacts_table(read.counted_contacts(found)))
    page = Paginator(read.counted_contacts(found), _PAGE).get_page(request.GET.get("page"))
    return render(request, "register/contacts.html", {"page": page, "q": wanted})


@require_safe
def contact(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a contact with its animals, what it said, and what it was sold."""
    one = get_object_or_404(Contact, pk=pk)
    context = {
        "contact": one,
        "reliability": as_typed(one.reliability),
        "animals": list(read.animals_from(one)),
        "record": record_page(one),
        "sheets": list(read.sheets_to(one)),
        "prospects": list(prospects_of(one)),
        "revisions": changes_of(one),
        "moved": just_moved(request),
    }
    return render(request, "register/contact.html", context)


@form_view
def edit_contact(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Add a contact or change it."""
    # Of somebody who was erased nothing is written down any more.
    there = Contact.objects.live().filter(erased_on=None)
    one = get_object_or_404(there, pk=pk) if pk else Contact()
    heading = f"Change {one}" if pk else "Add a contact"
    form = ContactForm(request.POST or None, instance=one)
    page = Editing(
        heading=heading,
        forms=[form],
        sections=[section(form)],
        back=reverse("register-contact", args=[pk]) if pk else reverse("register-contacts"),
        reason=ReasonForm.of_change(request.POST or None) if pk else None,
    )
    return edited(
        request,
        page,
        save=lambda reason: writes.keep_contact(contact=one, by=account(request), reason=reason),
        to=lambda: reverse("register-contact", args=[one.pk]),
    )
