"""What an animal shows by combinations, in words: double forms, combinations, named looks."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from keeper.domain.saying.figures import percent
from keeper.models import LookPart, NamedLook, Shown, Shows, Trait


@dataclass(frozen=True)
class ShownLook:
    """A look that an animal shows or may show; `look` is the trait or the named look.

    `made_of`: what it is made of, in words; nothing for a trait by combinations.
    """

    look: Trait | NamedLook
    made_of: str
    chance: float
    disputed: bool

    @property
    def is_named(self) -> bool:
        """Whether it is a look of several genes that has a name of its own."""
        return isinstance(self.look, NamedLook)

    @property
    def is_certain(self) -> bool:
        """Whether nothing else is possible, and nothing of it is under dispute."""
        return self.chance == 1 and not self.disputed

    @property
    def figure(self) -> str:
        """The chance, or that it is under dispute."""
        return "disputed" if self.disputed else percent(self.chance)

    def __str__(self) -> str:
        """Name it with its chance, if it is not certain: "Neapsedge, 25 %"."""
        return str(self.look) if self.is_certain else f"{self.look}, {self.figure}"


def said_to_show(chance: float, *, disputed: bool) -> str:
    """Return what is said of a look on an animal: that it shows it, may, or does not."""
    if disputed:
        return "disputed"
    if chance in (0, 1):
        return "shows it" if chance else "does not show it"
    return f"may show it, {percent(chance)}"


def with_parts(looks: QuerySet[NamedLook]) -> QuerySet[NamedLook]:
    """Fetch along what named looks are made of."""
    parts = LookPart.objects.live().select_related("trait").prefetch_related("lines")
    return looks.prefetch_related(Prefetch("parts", parts, to_attr="live_parts"))


def shown_by(animals: Iterable[int]) -> dict[int, list[ShownLook]]:
    """Return by animal what it shows or may show, named looks first, then the surest."""
    found: dict[int, list[Shows]] = {}
    for row in shown_rows().filter(animal__in=list(animals)):
        found.setdefault(row.animal_id, []).append(row)
    return {animal: in_order(rows) for animal, rows in found.items()}


def shown_rows() -> QuerySet[Shows]:
    """Return what animals show or may, with all that its words need."""
    parts = LookPart.objects.live().select_related("trait").prefetch_related("lines")
    rows = Shows.objects.filter(chance__gt=0).select_related("trait__base", "look")
    return rows.prefetch_related(Prefetch("look__parts", parts, to_attr="live_parts"))


def in_order(rows: Iterable[Shows]) -> list[ShownLook]:
    """Return the looks of one animal, named ones first, then the surest."""
    found = []
    for row in rows:
        look = row.trait or row.look
        assert look is not None
        found.append(ShownLook(look, made_of(look), row.chance, row.disputed))
    return sorted(found, key=lambda one: (not one.is_named, -one.chance, str(one.look)))


def made_of(look: Trait | NamedLook) -> str:
    """Return what a look is made of: "Saltgrass HAR and Blaze", "two copies of Blaze"."""
    if isinstance(look, Trait):
        return f"two copies of {look.base}" if look.shown == Shown.EVERY else ""
    return joined([part_words(part) for part in parts_of(look)])


def parts_of(look: NamedLook) -> Sequence[LookPart]:
    """Return the parts of a look that was fetched `with_parts`."""
    found: Sequence[LookPart] = look.live_parts  # type: ignore[attr-defined]  # by the prefetch
    return found


def names_of(traits: Collection[int], looks: Iterable[NamedLook]) -> str:
    """Return the named looks, fetched `with_parts`, that a look of several traits is or holds.

    A look that only some lines make is not told by what is seen, so it is not among them.
    """
    fitting = [
        str(look)
        for look in looks
        if {part.trait_id for part in parts_of(look)} <= set(traits)
        and not any(part.lines.all() for part in parts_of(look))
    ]
    return joined(fitting)


def part_words(part: LookPart) -> str:
    """Return one part of a look: its trait, with any lines that it names."""
    codes = sorted(line.label for line in part.lines.all() if not line.is_withdrawn)
    return f"{part.trait} {' or '.join(codes)}" if codes else str(part.trait)


def joined(words: Sequence[str]) -> str:
    """Return words in a row: "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
