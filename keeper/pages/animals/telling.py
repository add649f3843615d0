"""The mating that would tell of which gene a visual is."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from keeper.models import Animal, Trait
from keeper.pages.animals.mixed import telling_page
from keeper.pages.frame.requests import require_safe, wants_part


@require_safe
def telling(request: HttpRequest, pk: int, trait: int) -> HttpResponse:
    """Show how a visual's copies may lie and who would tell; under its mark, or as a page."""
    animal = get_object_or_404(Animal.objects.select_related("species"), pk=pk)
    look = get_object_or_404(Trait, pk=trait, species=animal.species_id)
    template = "animals/telling.html" + ("#telling" if wants_part(request) else "")
    return render(request, template, {"shown": telling_page(animal, look)})
