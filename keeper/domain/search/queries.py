"""Finding anything that has a page: by its code, its name, or a word in its notes."""

from collections.abc import Callable
from dataclasses import dataclass

from django.db.models import Case, CharField, IntegerField, Q, QuerySet, Value, When
from django.db.models.functions import Cast, Concat, Lower

from keeper.discretion import sees_people
from keeper.domain.book.letters import begins_with, has_letters
from keeper.models import (
    Animal,
    Clutch,
    Contact,
    Laboratory,
    Line,
    NamedLook,
    Project,
    Prospect,
    Record,
    Sheet,
    Trait,
)

# A sheet's number as it is typed, with its series if it has one.
_NUMBER = Cast("number", CharField())
_WRITTEN = Case(
    When(series="", then=_NUMBER),
    default=Concat("series", Value("-"), _NUMBER),
    output_field=CharField(),
)


@dataclass(frozen=True)
class Kind:
    """A kind of record that is searched for.

    Attributes:
        title: what several of them are called.
        rows: those that may be found.
        named: fields with its code or name, the first orders what is found.
        told: fields with further words.
    """

    title: str
    rows: Callable[[], QuerySet[Record]]
    named: tuple[str, ...]
    told: tuple[str, ...] = ()


@dataclass(frozen=True)
class Group:
    """What was found of a kind; `more` tells that there is more of it."""

    title: str
    records: tuple[Record, ...]
    more: bool


def _kinds() -> tuple[Kind, ...]:
    return (
        Kind("Animals", lambda: Animal.objects.live(), ("code", "name"), ("notes",)),
        Kind("Clutches", lambda: Clutch.objects.live(), ("code",), ("notes",)),
        Kind("Traits", lambda: Trait.objects.live(), ("name",), ("notes",)),
        Kind(
            "Lines",
            lambda: Line.objects.live().select_related("trait"),
            ("code", "name"),
            ("origin", "trait__name"),
        ),
        Kind("Looks of several genes", lambda: NamedLook.objects.live(), ("name",), ("notes",)),
        Kind("Projects", lambda: Project.objects.live(), ("name",), ("notes",)),
        *(_of_people() if sees_people() else ()),
        Kind("Laboratories", lambda: Laboratory.objects.live(), ("name",)),
    )


def _of_people() -> tuple[Kind, ...]:
    """What is about sources, sellers and buyers: found by whoever may see them."""
    return (
        Kind("Prospects", lambda: Prospect.objects.live(), ("name",), ("notes",)),
        Kind("Sources", lambda: Contact.objects.live(), ("name",), ("notes",)),
        Kind(
            "Sheets",
            lambda: Sheet.objects.live().select_related("animal").annotate(written=_WRITTEN),
            ("written",),
            ("animal__code",),
        ),
    )


def found(text: str, *, most: int) -> list[Group]:
    """Return what has this text in it, kind by kind: what begins with it first.

    Looked for in codes and names, and from three letters on in notes too; at most so many of a
    kind, in one query each.
    """
    words = text.strip()
    if not words:
        return []
    groups = []
    for kind in _kinds():
        rows = list(_fitting(kind, words)[: most + 1])
        if rows:
            groups.append(Group(kind.title, tuple(rows[:most]), len(rows) > most))
    return groups


def _fitting(kind: Kind, words: str) -> QuerySet[Record]:
    begins, inside = Q(), Q()
    for field in kind.named:
        begins |= begins_with(field, words)
        inside |= has_letters(field, words)
    if len(words) > 2:
        for field in kind.told:
            inside |= has_letters(field, words, often_empty=True)
    order = Case(When(begins, then=Value(0)), default=Value(1), output_field=IntegerField())
    return kind.rows().filter(inside).order_by(order, Lower(kind.named[0]), "pk")
