"""Looks of several genes that have a name: given, changed, read."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db.models import QuerySet

from keeper.domain import inference
from keeper.domain.book.writing import Writing, about, writing
from keeper.domain.saying.shows import with_parts
from keeper.models import (
    Account,
    Animal,
    DaybookEntry,
    Line,
    LookPart,
    NamedLook,
    Shows,
    Species,
    Trait,
)


@dataclass(frozen=True)
class SeenPart:
    """A trait that is seen in a look; of these lines alone, if any are named."""

    trait: Trait
    lines: tuple[Line, ...] = ()


def keep_look(
    *, look: NamedLook, parts: Sequence[SeenPart], by: Account, reason: str = ""
) -> DaybookEntry:
    """Give a look of several genes a name, or change what it is made of.

    Raises:
        ValidationError: it is of fewer than two traits, a trait has this name, or no animal can
            show all of it.
    """
    verb = "Changed" if look.pk else "Added"
    with writing(by=by, what=f"{verb} the look {look}", reason=reason) as book:
        _check(look, parts)
        if look.pk:
            book.refuse_overtaken(look)
        book.keep(look)
        about(book.entry, look)
        _set_parts(book, look, parts)
    return book.entry


def _check(look: NamedLook, parts: Sequence[SeenPart]) -> None:
    if len({part.trait.pk for part in parts}) < 2:
        raise ValidationError(
            "A look of several genes is made of two traits or more. Choose another."
        )
    if Trait.objects.live().filter(species=look.species, name__iexact=look.name).exists():
        raise ValidationError({"name": "A trait has this name already. Choose another."})
    for part in parts:
        if any(line.trait_id not in {part.trait.pk, part.trait.base_id} for line in part.lines):
            raise ValidationError(
                f"Only lines of {part.trait} itself can show it. Choose among these."
            )
    hindrance = inference.never_seen(
        look.species, [(part.trait.pk, [line.pk for line in part.lines]) for part in parts]
    )
    if hindrance:
        raise ValidationError(hindrance)


def _set_parts(book: Writing, look: NamedLook, parts: Sequence[SeenPart]) -> None:
    """Keep what is new in a look and withdraw what is no longer in it."""
    wanted = {(part.trait.pk, frozenset(line.pk for line in part.lines)): part for part in parts}
    for old in LookPart.objects.live().filter(look=look).prefetch_related("lines"):
        if wanted.pop((old.trait_id, frozenset(one.pk for one in old.lines.all())), None) is None:
            book.withdraw(old, reason=book.entry.reason or "no longer part of the look")
    for part in wanted.values():
        book.keep(LookPart(look=look, trait=part.trait), lines=part.lines)


def looks_of(species: Species) -> QuerySet[NamedLook]:
    """Return the named looks of a species that count, with their parts."""
    return with_parts(NamedLook.objects.live().filter(species=species).order_by("name"))


def showing(look: NamedLook) -> QuerySet[Shows]:
    """Return what is known of the animals here that show a look or may, the surest first."""
    here = Animal.objects.live()
    rows = Shows.objects.filter(look=look, chance__gt=0, animal__in=here)
    return rows.select_related("animal").order_by("-chance", "animal__code")
