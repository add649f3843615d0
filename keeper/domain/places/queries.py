"""Who is where: the tree of places, the places that are only written down, rounds through them.

An animal is in a place whose name its own place is, letter for letter. A place that is not in the
tree is told by the sign between a rack and its tub: "Rack 7 · 12" is the tub 12 of Rack 7.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Count

from keeper.domain.book.letters import begins_with
from keeper.domain.husbandry.queries import living
from keeper.models import Animal, Place

_FIGURES = re.compile(r"(\d+)")
_RACK = re.compile(r"^(.*?\S)\s*[·/,:;–-]\s*[^·/,:;–-]+$")


@dataclass(frozen=True)
class Spot:
    """A place of the tree with its parts.

    Attributes:
        here: how many animals are in it by name, those in its parts left out.
        parts: the places that are a part of it, in their order.
    """

    place: Place
    here: int
    parts: tuple["Spot", ...]

    @property
    def count(self) -> int:
        """How many animals are in it and its parts."""
        return self.here + sum(one.count for one in self.parts)

    @property
    def holds(self) -> int | None:
        """How many it can hold: as said of it, else as all of its parts together; or not known."""
        if self.place.holds is not None or not self.parts:
            return self.place.holds
        of_parts = [one.holds for one in self.parts]
        return None if None in of_parts else sum(one or 0 for one in of_parts)

    @property
    def free(self) -> int | None:
        """How many more it can hold; nothing where that is not known."""
        return None if self.holds is None else max(0, self.holds - self.count)

    @property
    def is_over(self) -> bool:
        """Whether more are in it than it can hold."""
        return self.holds is not None and self.count > self.holds

    @property
    def listed(self) -> tuple["Spot", ...]:
        """The parts that a tree of all places lists: those with parts, or with too much in them."""
        return tuple(one for one in self.parts if one.parts or one.is_over)

    def walk_listed(self) -> list["Spot"]:
        """It and what a tree of all places lists in it."""
        return [self, *(spot for part in self.listed for spot in part.walk_listed())]

    def walk(self) -> list["Spot"]:
        """It and all of its parts, in the order of a round."""
        return [self, *(spot for part in self.parts for spot in part.walk())]


@dataclass(frozen=True)
class Written:
    """Places that are written with animals and are none of the tree: by their rack."""

    rack: str
    names: tuple[str, ...]
    count: int


def in_order(name: str) -> list[tuple[int, int, str]]:
    """Order names as people count: tub 9 before tub 10.

    >>> sorted(["R 10", "R 9"], key=in_order)
    ['R 9', 'R 10']
    """
    parts = _FIGURES.split(name.casefold())
    return [(0, int(one), "") if one.isdecimal() else (1, 0, one) for one in parts if one]


def rack_of(name: str) -> str:
    """Return the rack that a written place is in; of a place by itself its own name.

    >>> rack_of("Rack 7 · 12"), rack_of("Room 2")
    ('Rack 7', 'Room 2')
    """
    found = _RACK.match(name)
    return found[1] if found else name


def tree() -> list[Spot]:
    """Return all places of the tree with how many are in each: two queries."""
    counts = _counts()
    places = list(Place.objects.live())
    below: dict[int | None, list[Place]] = {}
    known = {one.pk for one in places}
    for one in places:
        # Of a place that was withdrawn the parts stand by themselves.
        below.setdefault(one.within_id if one.within_id in known else None, []).append(one)
    return _spots(None, below, counts)


def spot_of(place: Place) -> Spot | None:
    """Return one place of the tree with its parts; None if it was withdrawn."""
    every = (spot for root in tree() for spot in root.walk())
    return next((one for one in every if one.place.pk == place.pk), None)


def _spots(
    within: int | None, below: Mapping[int | None, Sequence[Place]], counts: Mapping[str, int]
) -> list[Spot]:
    listed = sorted(below.get(within, ()), key=lambda one: (one.position, in_order(one.name)))
    return [
        Spot(one, counts.get(one.name, 0), tuple(_spots(one.pk, below, counts))) for one in listed
    ]


def _counts() -> dict[str, int]:
    rows = living().exclude(place="").order_by().values_list("place")
    return dict(rows.annotate(number=Count("pk")))


def written_only() -> list[Written]:
    """Return the places that animals are said to be in and that are none of the tree."""
    known = set(Place.objects.live().values_list("name", flat=True))
    racks: dict[str, dict[str, int]] = {}
    for name, number in _counts().items():
        if name not in known:
            racks.setdefault(rack_of(name), {})[name] = number
    return [
        Written(rack, tuple(sorted(names, key=in_order)), sum(names.values()))
        for rack, names in sorted(racks.items(), key=lambda item: in_order(item[0]))
    ]


def animals_in(names: Sequence[str]) -> list[Animal]:
    """Return who lives in places of these names, in their order."""
    turn = {name: number for number, name in enumerate(names)}
    rows = living().filter(place__in=names).select_related("species")
    return sorted(rows, key=lambda one: (turn[one.place], in_order(one.code)))


def animals_written(rack: str) -> list[Animal]:
    """Return who lives in a rack that is only written down, in the order of its tubs."""
    rows = living().filter(begins_with("place", rack)).select_related("species")
    found = [one for one in rows if one.place == rack or rack_of(one.place) == rack]
    return sorted(found, key=lambda one: (in_order(one.place), in_order(one.code)))


def nowhere() -> int:
    """How many live here of which no place is known."""
    return living().filter(place="").count()


def by_place(animals: Iterable[Animal]) -> dict[str, list[Animal]]:
    """Return animals by the place that is written with them."""
    found: dict[str, list[Animal]] = {}
    for one in animals:
        found.setdefault(one.place, []).append(one)
    return found
