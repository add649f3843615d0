"""What looks odd about an animal, in sentences that name the fact; each can be insisted on."""

from collections.abc import Iterator
from datetime import date

from django.utils import timezone

from keeper.domain.book.odd_codes import odd_code
from keeper.domain.saying.counts import how_many
from keeper.models import Animal, Sex, Status

_AWAY = {Status.SOLD: "was sold", Status.LENT: "was lent", Status.DIED: "died"}


def odd_animal(animal: Animal, code_before: str = "") -> Iterator[str]:
    """Yield what may be wrong with an animal as it is being written."""
    yield from odd_code(animal, code_before)
    today = timezone.localdate()
    for happened, day in (("hatched", animal.hatched_on), ("was acquired", animal.acquired_on)):
        if day is not None and day > today:
            yield f"It {happened} on {in_full(day)}, which is still to come."
    if animal.hatched_on is None and (year := animal.hatched_year) is not None:
        if year > today.year:
            yield f"It hatched in {year}, which is still to come."
        if animal.acquired_on is not None and animal.acquired_on.year < year:
            yield f"It was acquired in {animal.acquired_on.year} and hatched in {year}."
    yield from _of_its_clutch(animal)


def _of_its_clutch(animal: Animal) -> Iterator[str]:
    laid = animal.clutch.laid_on if animal.clutch else None
    if laid is not None and animal.hatched_on is not None and animal.hatched_on <= laid:
        yield f"It hatched before its clutch {animal.clutch} was laid, on {in_full(laid)}."


def too_young(animal: Animal, on: date, what: str) -> Iterator[str]:
    """Yield if an animal cannot have been of breeding age; of an unknown age nothing is asked."""
    species, female = animal.species, animal.sex == Sex.FEMALE
    months = species.female_mature_months if female else species.male_mature_months
    born = animal.hatched_at_earliest
    if born is None:
        return
    age = (on.year - born.year) * 12 + on.month - born.month - (on.day < born.day)
    if 0 <= age < months:
        yield (
            f"{animal} was {how_many(age, 'month')} old when the clutch {what}; "
            f"{species} breed from {months} months."
        )


def kept_elsewhere(animal: Animal, on: date) -> Iterator[str]:
    """Yield if an animal was dead, sold or lent by a day; a status without its day asks nothing."""
    since = animal.status_since
    if since is not None and since < on and (happened := _AWAY.get(Status(animal.status))):
        yield f"{animal} {happened} on {in_full(since)}, before the clutch was laid."


def in_full(day: date) -> str:
    """A day as a sentence says it: "3 December 2026"."""
    return f"{day:%-d %B %Y}"
