"""What the register's pages show of looks that have a name."""

from dataclasses import dataclass

from keeper.domain import inference
from keeper.domain.register import named_looks as read
from keeper.domain.saying.shows import ShownLook, made_of, parts_of
from keeper.models import Animal, LookPart, NamedLook, Species

# So many animals are named; the collection finds all.
_NAMED = 24


@dataclass(frozen=True)
class ListedLook:
    """A named look with what it is made of, in words."""

    look: NamedLook
    made_of: str


@dataclass(frozen=True)
class LookPage:
    """A named look: its parts, why nobody can show it if that is so, and who does."""

    look: NamedLook
    parts: tuple[tuple[LookPart, tuple[str, ...]], ...]
    never_seen: str
    animals: tuple[tuple[Animal, ShownLook], ...]
    more: int


def listed(species: Species) -> list[ListedLook]:
    """Return the named looks of a species."""
    return [ListedLook(look, made_of(look)) for look in read.looks_of(species)]


def look_page(look: NamedLook) -> LookPage:
    """Return the page of a look that was fetched with its parts."""
    parts = parts_of(look)
    rows = list(read.showing(look))
    asked = [(part.trait_id, [line.pk for line in part.lines.all()]) for part in parts]
    return LookPage(
        look,
        tuple((part, tuple(sorted(line.label for line in part.lines.all()))) for part in parts),
        inference.never_seen(look.species, asked) if asked else "",
        tuple((row.animal, ShownLook(look, "", row.chance, row.disputed)) for row in rows[:_NAMED]),
        max(0, len(rows) - _NAMED),
    )
