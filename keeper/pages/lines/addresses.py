"""Two lines in an address, and the address of two lines."""

from django.http import Http404
from django.shortcuts import get_object_or_404
from django.urls import reverse

from keeper.domain.lines import queries
from keeper.models import Line

_LINES = Line.objects.live().select_related("trait__species", "locus")


def two_lines(one: int, other: int) -> tuple[Line, Line]:
    """Return two lines of one look, the earlier first."""
    if one == other:
        raise Http404("a line is one gene with itself")
    found = queries.in_order(get_object_or_404(_LINES, pk=one), get_object_or_404(_LINES, pk=other))
    if found[0].trait_id != found[1].trait_id:
        raise Http404("lines of different looks")
    return found


def address_of(one: Line, other: Line) -> str:
    first, second = queries.in_order(one, other)
    return reverse("register-lines-pair", args=[first.pk, second.pk])
