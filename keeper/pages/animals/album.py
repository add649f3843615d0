"""What the page of an animal's photos prints: by its age, and two of them side by side."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from keeper.domain.saying.counts import how_many
from keeper.models import Animal, Photo


@dataclass(frozen=True)
class Aged:
    """A photo with the animal's age on it, in words; nothing where that is not known."""

    photo: Photo
    age: str
    is_chosen: bool

    @property
    def words(self) -> str:
        """What stands under it: age and day, as far as they are known."""
        on = f"{self.photo.taken_on:%-d %B %Y}" if self.photo.taken_on else "day not known"
        return f"{self.age}, {on}" if self.age else on


@dataclass(frozen=True)
class Album:
    """An animal's photos, the youngest age first, those of no known day last; and two chosen."""

    photos: tuple[Aged, ...]

    @property
    def beside(self) -> tuple[Aged, ...]:
        """The chosen ones."""
        return tuple(one for one in self.photos if one.is_chosen)


def album(animal: Animal, asked: Sequence[int | None]) -> Album:
    """Return the photos that count of an animal; `asked` are those to be shown side by side.

    Without two of its own that are asked for, these are the first and the last.
    """
    rows = sorted(
        Photo.objects.live().filter(animal=animal),
        key=lambda one: (one.taken_on is None, one.taken_on or date.max, one.pk),
    )
    own = [one.pk for one in rows]
    chosen = [pk for pk in dict.fromkeys(asked) if pk in own][:2]
    if len(chosen) < 2:
        rest = [pk for pk in (own[-1:] + own[:1]) if pk not in chosen]
        chosen = [*chosen, *dict.fromkeys(rest)][:2]
    return Album(tuple(Aged(one, age_on(animal, one.taken_on), one.pk in chosen) for one in rows))


def age_on(animal: Animal, on: date | None) -> str:
    """Return how old an animal was on a day, in words; nothing where that is not known.

    >>> age_on(Animal(hatched_on=date(2024, 2, 29)), date(2025, 2, 28))
    '11 months'
    >>> age_on(Animal(hatched_on=date(2024, 2, 29)), date(2026, 3, 30))
    '2 years 1 month'
    >>> age_on(Animal(hatched_year=2021), date(2024, 5, 1))
    'about 3 years'
    """
    born = animal.hatched_on
    if on is None or (born is None and not animal.hatched_year):
        return ""
    if born is None:
        years = on.year - int(animal.hatched_year or on.year)
        return f"about {how_many(years, 'year')}" if years > 0 else "in its first year"
    if on < born:
        return "before it hatched"
    months = (on.year - born.year) * 12 + on.month - born.month - (on.day < born.day)
    if months < 2:
        return how_many((on - born).days, "day")
    if months < 24:
        return how_many(months, "month")
    years, rest = divmod(months, 12)
    return how_many(years, "year") + (f" {how_many(rest, 'month')}" if rest else "")
