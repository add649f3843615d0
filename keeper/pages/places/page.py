"""What the pages of places print."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil

from django.urls import reverse

from keeper.domain.places import queries as reads
from keeper.domain.places.queries import Spot, Written
from keeper.models import Animal, Place
from keeper.pages.frame.files import Table

# A picture takes so many tubs in a row, and so many animals at most are listed to be moved.
ACROSS, MOST = 6, 300
CELL, HIGH, GAP = 100.0, 56.0, 8.0


@dataclass(frozen=True)
class Cell:
    """One part of a rack in its picture.

    Attributes:
        state: filled, free or over; empty where what it can hold is not known.
        words: who is in it, or how many, or that it is free.
        url: of the animal in it, or of the part.
    """

    name: str
    short: str
    words: str
    state: str
    url: str
    left: float
    top: float


@dataclass(frozen=True)
class RackPicture:
    """A rack as it stands: its parts in their order, filled as they are."""

    cells: tuple[Cell, ...]
    width: float
    height: float
    cell: float = CELL
    high: float = HIGH


@dataclass(frozen=True)
class PlacePage:
    """A place: what is in it and its parts, its picture, who can be moved from it."""

    place: Place
    spot: Spot | None
    animals: tuple[Animal, ...]
    picture: RackPicture | None
    more: bool


@dataclass(frozen=True)
class Tree:
    """All places, and those that are only written."""

    roots: tuple[Spot, ...]
    written: tuple[Written, ...]
    nowhere: int


def tree() -> Tree:
    """Return the page of all places."""
    return Tree(tuple(reads.tree()), tuple(reads.written_only()), reads.nowhere())


def place_page(place: Place) -> PlacePage:
    """Return a place's page."""
    spot = reads.spot_of(place)
    if spot is None:
        return PlacePage(place, None, (), None, more=False)
    animals = reads.animals_in([one.place.name for one in spot.walk()])
    return PlacePage(
        place, spot, tuple(animals[:MOST]), _picture(spot, animals), len(animals) > MOST
    )


def _picture(spot: Spot, animals: Iterable[Animal]) -> RackPicture | None:
    if not spot.parts:
        return None
    there = reads.by_place(animals)
    cells = tuple(
        _cell(one, there.get(one.place.name, []), number, spot.place.name)
        for number, one in enumerate(spot.parts)
    )
    across = min(ACROSS, len(cells))
    rows = ceil(len(cells) / ACROSS)
    return RackPicture(cells, across * (CELL + GAP) - GAP, rows * (HIGH + GAP) - GAP)


def _cell(spot: Spot, animals: list[Animal], number: int, rack: str) -> Cell:
    short = spot.place.name.removeprefix(rack).strip(" ·/,:;–-") or spot.place.name
    if spot.count == 1 and len(animals) == 1:
        words, url = animals[0].code, reverse("animals-one", args=[animals[0].pk])
    else:
        words = f"{spot.count} in it" if spot.count else "free"
        url = reverse("animals-places-one", args=[spot.place.pk])
    state = "over" if spot.is_over else "filled" if spot.count else "free"
    left, top = (number % ACROSS) * (CELL + GAP), (number // ACROSS) * (HIGH + GAP)
    return Cell(spot.place.name, short[:12], words[:12], state, url, left, top)


def free_names() -> list[str]:
    """Return the names of places without parts that have room, in their order."""
    every = (spot for root in reads.tree() for spot in root.walk())
    return [one.place.name for one in every if not one.parts and one.free]


def places_table() -> Table:
    """Return the tree of places as a table; who is where stands in the list of animals."""
    every = [spot for root in reads.tree() for spot in root.walk_listed()]
    rows = [
        (
            one.place.name,
            one.place.get_kind_display(),
            one.place.within.name if one.place.within_id and one.place.within else "",
            one.holds,
            one.count,
            one.free,
        )
        for one in every
    ]
    written = [
        (one.rack, "only written", "", None, one.count, None) for one in reads.written_only()
    ]
    return ["Place", "Kind", "Within", "Holds", "In it", "Free"], [*rows, *written]
