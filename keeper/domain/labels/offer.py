"""What gets a label: animals, clutches, places with their parts, hatchlings."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from keeper.domain.labels import queries as reads
from keeper.domain.labels.queries import Tally
from keeper.domain.labels.writes import Wanted
from keeper.domain.places.queries import in_order, spot_of
from keeper.models import Animal, Clutch, HatchRow, LabelRun, Place
from keeper.models.care.labels import MOST_AT_ONCE

# The words by which records are asked for.
ASKED = ("animal", "clutch", "place", "hatch", "run")
Named = Animal | Clutch | Place


@dataclass(frozen=True)
class Offer:
    """What can get a label here.

    Attributes:
        named: records, each with its words.
        tallies: hatchlings without a record, by the rows they are counted in.
        more: how many records more were asked for than are printed at once.
    """

    named: tuple[tuple[Named, str], ...] = ()
    tallies: tuple[Tally, ...] = ()
    more: int = 0

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to print."""
        return not (self.named or self.tallies)

    def wanted(self, keys: Collection[str], tubs: Sequence[tuple[HatchRow, int]]) -> Wanted:
        """Return what of it was chosen, by the keys of records."""
        chosen = [one for one, _ in self.named if key_of(one) in keys]
        return Wanted(
            animals=[one for one in chosen if isinstance(one, Animal)],
            clutches=[one for one in chosen if isinstance(one, Clutch)],
            places=[one for one in chosen if isinstance(one, Place)],
            tubs=tubs,
        )


def key_of(record: Named) -> str:
    """Return how a form calls a record."""
    return f"{type(record).__name__[0].lower()}{record.pk}"


def offer_of(asked: Mapping[str, Sequence[int]]) -> Offer:
    """Return what can get a label of what is asked for, by the numbers of records.

    `animal`, `clutch` and `place` name records; a place brings its parts. `hatch` names clutches
    whose hatchlings get labels, `run` labels that were printed before.
    """
    animals, clutches = (set(asked.get(one, ())) for one in ("animal", "clutch"))
    places = _with_parts(asked.get("place", ()))
    for run in LabelRun.objects.filter(pk__in=asked.get("run", ())):
        for label in reads.labels_of(run):
            if label.tub is None:
                animals.add(label.animal_id or 0)
                clutches.add(label.clutch_id or 0)
                places.add(label.place_id or 0)
    hatch = asked.get("hatch", ())
    animals |= reads.young_of(hatch)
    named = [*_animals(animals), *_clutches(clutches), *_places(places)]
    return Offer(
        tuple(named[:MOST_AT_ONCE]),
        tuple(reads.tallies_of(hatch)),
        max(0, len(named) - MOST_AT_ONCE),
    )


def _animals(pks: Collection[int]) -> list[tuple[Named, str]]:
    rows = Animal.objects.live().filter(pk__in=pks).select_related("species").order_by("code")
    return [(one, f"{one.code} {one.name}".strip()) for one in rows]


def _clutches(pks: Collection[int]) -> list[tuple[Named, str]]:
    rows = Clutch.objects.live().filter(pk__in=pks).order_by("code")
    return [(one, f"Eggs of {one.code}") for one in rows]


def _places(pks: Collection[int]) -> list[tuple[Named, str]]:
    rows = Place.objects.live().filter(pk__in=pks)
    listed = sorted(rows, key=lambda one: in_order(one.name))
    return [(one, one.name) for one in listed]


def _with_parts(pks: Collection[int]) -> set[int]:
    """Places and all of their parts."""
    spots = [spot_of(one) for one in Place.objects.live().filter(pk__in=pks)]
    return {part.place.pk for spot in spots if spot for part in spot.walk()}
