"""Imports read."""

from django.db.models import QuerySet

from keeper.models import Animal, Import, Species, Stage


def listed() -> QuerySet[Import]:
    """Return all imports, the latest first, without their tables."""
    rows: QuerySet[Import] = Import.objects.defer("table")
    return rows.select_related("by", "entry").order_by("-pk")


def unfinished() -> int:
    """Count the imports that were begun and not brought in."""
    return Import.objects.exclude(stage=Stage.DONE).count()


def species_there() -> QuerySet[Species]:
    """Return the species that animals may be of."""
    rows: QuerySet[Species] = Species.objects.live()
    return rows.order_by("name")


def is_code(text: str) -> bool:
    """Whether an animal of the book has this code."""
    return Animal.objects.live().filter(code__iexact=text).exists()
