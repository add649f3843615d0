"""What looks say of each trait: what was seen, what was not, and in what order.

A whole look says of every trait that it does not name that it was not seen, as far as the trait
was looked for on that day and can be told of an animal of that age. Whoever saw a trait saw it; but
that it was not seen says nothing at an age at which it cannot be told.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import prod
from typing import Any, NamedTuple

from django.db.models import CharField, Value
from django.db.models.expressions import Combinable
from django.db.models.functions import Cast

import genetics
from keeper import models as m
from keeper.domain.inference.reading import register

# A row that an engine's record rests on: the model's name and the row's id.
Source = tuple[str, int]
Values = Iterable[Any]

# How often a look at a hatchling for a trait is misread, unless the keeper or the register says
# otherwise. Common practice, no source.
MISREAD = Fraction(1, 200)

# What is read of an observation and of a whole look. An observation that was withdrawn, or that
# could not tell, is still what its look says of that trait: nothing. Days are read as their text,
# which is in order too: of thousands hardly one is asked for, and each takes long to be made.
_ON, _WITHDRAWN, _HATCHED_ON = (
    Cast(column, CharField()) for column in ("on", "withdrawn_at", "animal__hatched_on")
)
OBSERVED = (
    *("pk", "animal_id", "trait_id", "seen", _ON, "look_id", _WITHDRAWN),
    *(_HATCHED_ON, "animal__hatched_year"),
)
# The same where no trait is limited to an age: nobody asks when an animal hatched.
AT_ANY_AGE: tuple[str | Combinable, ...] = (
    *OBSERVED[:-2],
    *(Value(None, output_field=CharField()) for _ in range(2)),
)
LOOKED = ("pk", "animal_id", _ON, _HATCHED_ON, "animal__hatched_year")


def misread() -> Fraction:
    """How often a look is misread: by the keeper's own rate, else the common figure."""
    own = m.BaseRate.objects.live().filter(mishap=m.Mishap.LOOK).first()
    return MISREAD if own is None else Fraction(own.chance)


class SeenRow(NamedTuple):
    """A look that counts for one animal and trait, and the one before it that counts too."""

    source: Source
    seen: bool
    earlier: "SeenRow | None" = None

    def all(self) -> Iterator["SeenRow"]:
        """This look and those before it, the latest first."""
        row: SeenRow | None = self
        while row is not None:
            yield row
            row = row.earlier

    def without(self, excluded: Collection[Source]) -> "SeenRow | None":
        """The latest that is not among some rows that are set aside."""
        return next((row for row in self.all() if row.source not in excluded), None)


@dataclass(frozen=True)
class Telling:
    """From when a species' traits are looked for, and at what age they can be told.

    Attributes:
        always: ids of traits without any limit.
        limited: trait → day since which it is looked for, ages in days from and until which it
            can be told; each None where there is no limit.
    """

    always: frozenset[int]
    limited: Mapping[int, tuple[date | None, int | None, int | None]]

    @classmethod
    def of(cls, species: int) -> "Telling":
        """Read those of a species; a query."""
        always, limited = set(), {}
        for pk, *limits in register.TOLD.rows([species]):
            if any(one is not None for one in limits):
                limited[pk] = (limits[0], limits[1], limits[2])
            else:
                always.add(pk)
        return cls(frozenset(always), limited)

    def can_tell(self, trait: int, on: date | None, hatched: "Hatched") -> bool:
        """Whether not having seen a trait says something at that age; not if the age is unknown."""
        _, begins, ends = self.limited.get(trait, (None, None, None))
        if begins is None and ends is None:
            return True
        youngest, oldest = hatched.ages(on)
        if youngest is None or oldest is None:
            return False
        return youngest >= (begins or 0) and (ends is None or oldest <= ends)

    def told(self, on: date | None, hatched: "Hatched") -> frozenset[int]:
        """The traits of which a whole look of that day speaks."""
        if not self.limited:
            return self.always
        return self.always | {
            trait
            for trait, (since, *_) in self.limited.items()
            if (since is None or (on is not None and on >= since))
            and self.can_tell(trait, on, hatched)
        }


@dataclass(frozen=True, slots=True)
class Hatched:
    """When an animal hatched, as far as that is known."""

    on: date | None = None
    year: int | None = None

    def ages(self, on: date | None) -> tuple[int | None, int | None]:
        """The least and the greatest age in days that it can have had on a day."""
        if on is None:
            return None, None
        if self.on is not None:
            age = (on - self.on).days
            return age, age
        if self.year is None:
            return None, None
        return (on - date(self.year, 12, 31)).days, (on - date(self.year, 1, 1)).days


# A hatchling on its first day, where that day is not known.
_SOME_DAY = date(2000, 1, 1)


def not_seen_at_hatch(
    telling: Telling, on: date | None, *, whole: bool, not_seen: set[int], named: Collection[int]
) -> frozenset[int]:
    """The traits not seen on hatch day: those said so, or at a whole look all but those named."""
    if whole:
        told = telling.told(on, Hatched(on)) if on else telling.told(_SOME_DAY, Hatched(_SOME_DAY))
        return told - set(named) | not_seen
    first = Hatched(_SOME_DAY)
    return frozenset(one for one in not_seen if telling.can_tell(one, _SOME_DAY, first))


def seen_rows(
    observed: Iterable[Values],
    looked: Iterable[Values],
    telling: Telling,
    about: frozenset[int] | None = None,
) -> dict[int, dict[int, SeenRow]]:
    """Animal → trait → what counts, the latest first, from values of `OBSERVED` and `LOOKED`.

    `about`: the traits of which these are; None stands for all.
    """
    said: dict[int, set[int]] = defaultdict(set)
    # In the order in which they count: by day, a whole look before what was seen apart, by id.
    days: list[tuple[str, int, int, int, bool, Collection[int]]] = []
    for pk, animal, trait, seen, on, look, gone, hatched_on, hatched_year in observed:
        if look is not None:
            said[look].add(trait)
        if gone is not None or seen == _UNSURE:
            continue
        is_limited = seen == _NO and trait in telling.limited
        if is_limited and not telling.can_tell(trait, _day(on), _hatched(hatched_on, hatched_year)):
            continue
        days.append((on, _OBSERVATION, pk, animal, seen == _YES, (trait,)))
    for pk, animal, on, *hatched in looked:
        told = telling.told(_day(on), _hatched(*hatched)) - said.get(pk, set())
        told = told if about is None else told & about
        days.append((on, _LOOK, pk, animal, False, told))
    days.sort()
    found: dict[int, dict[int, SeenRow]] = defaultdict(dict)
    for _, kind, pk, animal, is_seen, traits in days:
        own, source = found[animal], (_KINDS[kind], pk)
        for trait in traits:
            own[trait] = SeenRow(source, is_seen, own.get(trait))
    return dict(found)


# Words of rows, and what a row is, as plain values: of each there are thousands.
_YES, _NO, _UNSURE = m.Seen.YES.value, m.Seen.NO.value, m.Seen.UNSURE.value
_LOOK, _OBSERVATION = 0, 1
_KINDS = ("look", "observation")


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _hatched(on: str | None, year: int | None) -> Hatched:
    return Hatched(_day(on), year)


def can_differ(trait: m.Trait, seen: int, unseen: int) -> bool:
    """Whether so many looks that saw a trait and that did not can all be of one animal."""
    return any(_chances_of_looks(trait, (True,) * seen + (False,) * unseen))


def sighting(trait: m.Trait, looks: Sequence[bool]) -> genetics.Sighting:
    """What looks at one animal for a trait say together; each saw it or did not.

    Whether it shows what its genes are for is decided once, whatever the eye makes of it.
    """
    there, not_there = _chances_of_looks(trait, looks)
    if looks[-1]:
        return genetics.Sighting(seen=True, false_negative=1 - there, false_positive=not_there)
    return genetics.Sighting(seen=False, false_negative=there, false_positive=1 - not_there)


def _chances_of_looks(trait: m.Trait, looks: Sequence[bool]) -> tuple[Fraction, Fraction]:
    """The chance of looks at an animal with the genes for a trait, and at one without."""
    passed, taken = Fraction(trait.overlooked), Fraction(trait.mistaken)
    showing = prod((1 - passed if seen else passed for seen in looks), start=Fraction(1))
    plain = prod((taken if seen else 1 - taken for seen in looks), start=Fraction(1))
    shows = Fraction(trait.penetrance)
    return shows * showing + (1 - shows) * plain, plain
