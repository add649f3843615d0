"""Entering places, naming them anew, and moving animals between them."""

from collections.abc import Iterable, Sequence

from keeper.domain.book.writing import Refused, Writing, about, writing
from keeper.domain.husbandry.queries import living
from keeper.domain.places.queries import in_order, written_only
from keeper.domain.saying.counts import how_many
from keeper.models import Account, Animal, DaybookEntry, Place, PlaceKind

MOST_PARTS = 200
_LONG = "“{name}” is too long for a place: 40 letters at most. Choose a shorter name for {rack}."


def add_place(*, place: Place, parts: int, by: Account) -> DaybookEntry:
    """Enter a place, with so many numbered parts that hold one animal each.

    Raises:
        ValidationError: its name is taken, or not in order.
        Refused: the name of a part would be too long.
    """
    with writing(by=by, what=f"Added the place {place}") as book:
        book.keep(place)
        about(book.entry, place)
        names = [f"{place.name} · {number}" for number in range(1, parts + 1)]
        _keep_parts(book, place, names)
    return book.entry


def change_place(*, place: Place, by: Account, reason: str = "") -> DaybookEntry:
    """Change a place; under another name, with everybody who is in it."""
    with writing(by=by, what=f"Changed the place {place}", reason=reason, subject=place) as book:
        old = book.now(place).name
        book.keep(place)
        if place.name != old:
            for animal in Animal.objects.live().filter(place=old).order_by("pk"):
                animal.place = place.name
                book.keep(animal)
    return book.entry


def withdraw_place(*, place: Place, by: Account, reason: str) -> DaybookEntry:
    """Take a place out of the tree; what is written with animals stays.

    Raises:
        Refused: other places are a part of it.
    """
    what = f"Withdrew the place {place}"
    with writing(by=by, what=what, reason=reason, subject=place) as book:
        book.withdraw(place, reason=reason)
    return book.entry


def move(*, animals: Sequence[Animal], to: str, by: Account) -> DaybookEntry:
    """Move animals to a place, of the tree or only written.

    Raises:
        Refused: none is named, or one was withdrawn.
        Questioned: the place would hold more than it can.
    """
    codes = ", ".join(one.code for one in animals)
    with writing(by=by, what=f"Moved {codes} to {to or 'no place'}") as book:
        if not animals:
            raise Refused("No animal is ticked. Choose those that move.")
        for animal in animals:
            if book.now(animal).is_withdrawn:
                raise Refused(
                    f"The record of {animal} was withdrawn. Leave it out, or restore it first."
                )
            animal.place = to
            book.keep(animal)
        book.ask(_too_many(to))
    return book.entry


def enter_written(*, by: Account) -> DaybookEntry:
    """Enter every place that is only written with animals: racks, and in them their tubs."""
    with writing(by=by, what="Entered the places as they are written") as book:
        known = {one.name: one for one in Place.objects.live()}
        entered = 0
        for written in written_only():
            names = [name for name in written.names if name != written.rack]
            rack = known.get(written.rack)
            if rack is None:
                kind = PlaceKind.RACK if names else PlaceKind.TUB
                rack = book.keep(Place(name=written.rack, kind=kind))
                entered += 1
            _keep_parts(book, rack, names)
            entered += len(names)
        book.entry.what = f"Entered {how_many(entered, 'place')} as they are written"
        book.entry.save(update_fields=["what"])
    return book.entry


def _keep_parts(book: Writing, rack: Place, names: Iterable[str]) -> None:
    listed = sorted(names, key=in_order)
    for name in listed:
        if len(name) > 40:
            raise Refused(_LONG.format(name=name, rack=rack))
    there = rack.parts.live().count()
    rows = [
        Place(name=name, kind=PlaceKind.TUB, within=rack, holds=1, position=there + number)
        for number, name in enumerate(listed, start=1)
    ]
    if rows:
        book.keep_many(rows)


def _too_many(name: str) -> Iterable[str]:
    """Ask about a place that holds more than it can; the animals moved stand in it already."""
    place = Place.objects.live().filter(name=name).first()
    if place is None or place.holds is None:
        return
    there = living().filter(place=name).count()
    if there > place.holds:
        yield (
            f"{place} holds {how_many(place.holds, 'animal')}; {there} would be in it. Is that so?"
        )
