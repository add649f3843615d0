"""Planned pairings: kept of a season's plan, written by hand, given up."""

from collections.abc import Sequence
from datetime import date

from keeper.domain.book.writing import Refused, about, writing
from keeper.domain.saying.counts import how_many
from keeper.models import Account, Animal, DaybookEntry, PlannedPairing, Status


def plan_pairings(*, pairings: Sequence[PlannedPairing], by: Account) -> DaybookEntry:
    """Write down who is to be paired in a season, in one entry.

    A female that is planned with another male in that season is planned anew; what is planned
    already is left as it is.

    Raises:
        Refused: nobody is named, all of it is planned already, or an animal is not here.
        ValidationError: the two are not of one species, or not of the sexes it takes.
    """
    if not pairings:
        raise Refused("No pair is chosen. Choose at least one.")
    season = pairings[0].season
    what = f"Planned {how_many(len(pairings), 'pairing')} for {season}"
    with writing(by=by, what=what) as book:
        before = {
            one.dam_id: one
            for one in PlannedPairing.objects.live().filter(
                season=season, dam__in=[one.dam_id for one in pairings]
            )
        }
        new = [
            one
            for one in pairings
            if one.dam_id not in before or before[one.dam_id].sire_id != one.sire_id
        ]
        if not new:
            raise Refused(f"All of it is planned for {season} already. Nothing is left to do.")
        for one in new:
            _is_here(book.now(one.dam), book.now(one.sire))
            old = before.get(one.dam_id)
            if old is not None:
                book.withdraw(old, reason=f"planned with {one.sire} instead")
            book.keep(one)
        about(book.entry, new[0])
    return book.entry


def change_pairing(*, pairing: PlannedPairing, by: Account, reason: str = "") -> DaybookEntry:
    """Keep a changed planned pairing.

    Raises:
        Refused: it was given up.
        ValidationError: it is not in order.
    """
    what = f"Changed the planned pairing {pairing}"
    with writing(by=by, what=what, reason=reason, subject=pairing) as book:
        book.refuse_overtaken(pairing)
        _is_here(book.now(pairing.dam), book.now(pairing.sire))
        book.keep(pairing)
    return book.entry


def give_up(*, pairing: PlannedPairing, reason: str, by: Account) -> DaybookEntry:
    """Take a planned pairing back.

    Raises:
        Refused: it was given up already.
    """
    what = f"Gave up the planned pairing {pairing}"
    with writing(by=by, what=what, reason=reason, subject=pairing) as book:
        if book.now(pairing).is_withdrawn:
            raise Refused(f"{pairing} was given up already. Nothing is left to do.")
        book.withdraw(pairing, reason=reason)
    return book.entry


def _is_here(*animals: Animal) -> None:
    for animal in animals:
        if animal.is_withdrawn:
            raise Refused(f"The record of {animal} was withdrawn. Restore it first.")
        if animal.status in {Status.SOLD, Status.DIED}:
            raise Refused(
                f"{animal} is not here: {animal.get_status_display()}. Choose one that is."
            )


def season_of(day: date) -> int:
    """Return the season that is planned on a day: the year, from October on the next."""
    return day.year + (day.month >= 10)
