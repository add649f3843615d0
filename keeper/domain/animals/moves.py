"""How the numbers of an animal moved: each change with the entry of the daybook that made it."""

from django.db.models import QuerySet

from keeper.models import Animal, Line, StandingChange, Trait


def moves_of(animal: Animal, trait: Trait, line: Line | None) -> QuerySet[StandingChange]:
    """Return how one number moved, the first move first, undone entries and undoing ones too."""
    return all_moves(animal).filter(trait=trait, line=line)


def all_moves(animal: Animal) -> QuerySet[StandingChange]:
    """Return how every number of an animal moved, the first move first."""
    return (
        StandingChange.objects.filter(animal=animal)
        .select_related(
            *("trait", "line", "line__trait", "entry", "entry__by"),
            "entry__undone_by",
        )
        .order_by("entry__at", "pk")
    )
