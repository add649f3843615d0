"""Parents of a cross of two lines, each with what it carries of them."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from keeper.domain.saying import wording
from keeper.models import Animal, Line, Standing


@dataclass(frozen=True)
class Borne:
    """One of the lines and how surely it is there, in words."""

    line: Line
    words: str


@dataclass(frozen=True)
class Bearer:
    """An animal and what it carries of two lines."""

    animal: Animal
    carries: tuple[Borne, ...]


def bearers(animals: Iterable[Animal], one: Line, other: Line) -> dict[int, Bearer]:
    """Return animals by id with what each carries of two lines: one query for all."""
    those = {animal.pk: animal for animal in animals}
    found: dict[int, list[Borne]] = defaultdict(list)
    standings = Standing.objects.filter(animal__in=those, line__in=(one, other), none__lt=1)
    for standing in standings.select_related("trait", "line").order_by("line__code"):
        if standing.line is not None:
            words = wording.said(standing).words
            found[standing.animal_id].append(Borne(standing.line, words))
    return {pk: Bearer(animal, tuple(found[pk])) for pk, animal in those.items()}
