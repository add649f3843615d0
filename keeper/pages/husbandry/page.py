"""What the pages of husbandry print."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.core.paginator import Page, Paginator
from django.urls import reverse
from django.utils.http import urlencode

from keeper.domain.husbandry import queries as reads
from keeper.domain.husbandry.pointed_out import PointedOut, pointed_out_of
from keeper.domain.places import queries as places
from keeper.domain.places.queries import Spot, Written
from keeper.models import Animal, HusbandryRecord, Meal, Place, Weight
from keeper.pages.frame.files import Table
from keeper.pages.husbandry.forms import RoundForm
from keeper.pages.husbandry.plots import Feeding, Growth, feeding, growth

A_PAGE = 30
# As many as fit a round's page; a part of the place has fewer.
MOST = 200
LABELS = {
    "meal": "Meals",
    "weight": "Weights",
    "shed": "Sheds",
    "cleaning": "Cleaning",
    "health": "Health",
    "treatment": "Treatments",
    "quarantine": "Quarantine",
}
DO = {
    "meal": "Fed",
    "weight": "Weighed",
    "shed": "Shed",
    "cleaning": "Cleaned",
    "health": "Health note",
    "treatment": "Treatment",
    "quarantine": "Quarantine",
}
_LAST = 3


@dataclass(frozen=True)
class AnimalCare:
    """An animal's page of husbandry: a list of one kind, two plots, what is pointed out."""

    animal: Animal
    kind: str
    records: Page[HusbandryRecord]
    growth: Growth | None
    weights: tuple[Weight, ...]
    feeding: Feeding | None
    weeks: tuple[reads.Week, ...]
    pointed_out: PointedOut

    @property
    def kinds(self) -> list[tuple[str, str]]:
        """The lists to choose from."""
        return list(LABELS.items())


@dataclass(frozen=True)
class Fare:
    """One animal of a round: what it weighed last, its last meals, the field of this one."""

    animal: Animal
    weight: Weight | None
    meals: tuple[Meal, ...]
    field: object = None


@dataclass(frozen=True)
class Where:
    """Over what a round goes: a place of the tree, or a rack that is only written.

    Attributes:
        query: what names it in an address.
        more: whether there are more animals than a page takes.
    """

    name: str
    query: str
    animals: tuple[Animal, ...]
    more: bool

    @property
    def round(self) -> str:
        """The address of its round."""
        return f"{reverse('animals-round')}?{self.query}"

    @property
    def paper(self) -> str:
        """The address of its round to be printed."""
        return f"{reverse('animals-round-paper')}?{self.query}"

    def each(self, animal: Animal | None = None) -> str:
        """The address of the round that goes one by one, at an animal."""
        at = f"&animal={animal.pk}" if animal is not None else ""
        return f"{reverse('animals-round-each')}?{self.query}{at}"

    @property
    def each_first(self) -> str:
        """The address of its first animal."""
        return self.each()


@dataclass(frozen=True)
class Step:
    """Where a round stands: at which animal, how many there are, the way back and on.

    `here` is the address of the animal itself, to which its form is sent.
    """

    fare: Fare
    number: int
    of: int
    here: str
    back: str
    next: str
    next_code: str


def animal_care(animal: Animal, kind: str, number: str | None, today: date) -> AnimalCare:
    """Return an animal's page of husbandry."""
    weights, weeks = reads.growth_of(animal), reads.weeks_of(animal, today)
    return AnimalCare(
        animal=animal,
        kind=kind,
        records=Paginator(reads.records_of(animal, kind), A_PAGE).get_page(number),
        growth=growth(weights),
        weights=tuple(reversed(weights[-12:])),
        feeding=feeding(weeks),
        weeks=tuple(one for one in reversed(weeks) if one.offered),
        pointed_out=pointed_out_of(animal, today),
    )


def care_table(animal: Animal, kind: str) -> Table:
    """Return all of a list as a table."""
    rows = reads.records_of(animal, kind)
    return ["Code", "Day", LABELS[kind], "Note"], (
        [animal.code, one.on.isoformat(), str(one), one.note] for one in rows
    )


def where_of_place(place: Place) -> Where | None:
    """Return a place of the tree as the way of a round; None if it was withdrawn."""
    spot = places.spot_of(place)
    if spot is None:
        return None
    names = [one.place.name for one in spot.walk()]
    return _where(place.name, urlencode({"place": place.pk}), places.animals_in(names))


def where_written(rack: str) -> Where:
    """Return a rack that is only written down as the way of a round."""
    return _where(rack, urlencode({"within": rack}), places.animals_written(rack))


def _where(name: str, query: str, animals: Sequence[Animal]) -> Where:
    return Where(name, query, tuple(animals[:MOST]), len(animals) > MOST)


def fares(animals: Iterable[Animal], form: RoundForm | None = None) -> list[Fare]:
    """Return animals with what they weighed and had last: two queries."""
    animals = list(animals)
    ids = [one.pk for one in animals]
    weights = reads.last_of(Weight, ids)
    meals = reads.last_of(Meal, ids, _LAST)
    return [
        Fare(
            one,
            next(iter(weights.get(one.pk, ())), None),
            tuple(meals.get(one.pk, ())),
            form[f"meal-{one.pk}"] if form is not None else None,
        )
        for one in animals
    ]


def step_of(where: Where, animal: Animal) -> Step:
    """Return where a round stands at one of its animals.

    At one that was moved away meanwhile it stands before the first.
    """
    listed = list(where.animals)
    place = next((number for number, one in enumerate(listed) if one.pk == animal.pk), -1)
    before = listed[place - 1] if place > 0 else None
    after = listed[place + 1] if place + 1 < len(listed) else None
    return Step(
        fare=fares([animal])[0],
        number=place + 1,
        of=len(listed),
        here=where.each(animal),
        back=where.each(before) if before is not None else "",
        next=where.each(after) if after is not None else where.round,
        next_code=after.code if after is not None else "",
    )


@dataclass(frozen=True)
class Rounds:
    """Where a round can go."""

    spots: tuple[Spot, ...]
    written: tuple[Written, ...]


def rounds() -> Rounds:
    """Return places with animals in them: rooms and racks first, then what is only written."""
    every = [spot for root in places.tree() for spot in root.walk()]
    taken = [one for one in every if one.count and (one.parts or one.place.within_id is None)]
    return Rounds(tuple(taken), tuple(places.written_only()))
