"""What the pages of labels print, and where a scanned label leads."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils import timezone

from keeper.domain.clutches.queries import with_parents
from keeper.domain.husbandry.summary import Summary, summary_of
from keeper.domain.labels import queries as reads
from keeper.domain.labels.addresses import is_here_alone
from keeper.domain.labels.queries import Elsewhere, Tally
from keeper.domain.places.queries import Spot, animals_in, spot_of
from keeper.models import Animal, Clutch, Label, LabelRun, LabelSheet, Place, tub_code

# So many animals of a place are listed with what can be noted of each; a round has the others.
_MOST = 12


@dataclass(frozen=True)
class LabelsPage:
    """What was printed, on what, and which labels lead elsewhere."""

    sheets: tuple[LabelSheet, ...]
    runs: tuple[LabelRun, ...]
    elsewhere: tuple[Elsewhere, ...]
    addresses: tuple[str, ...]

    @property
    def here_alone(self) -> bool:
        """Whether no phone can follow a label as the book is reached now."""
        return is_here_alone(self.addresses[0])


@dataclass(frozen=True)
class Scanned:
    """The record that a scanned label is of, with what can be noted of it in one tap.

    Attributes:
        title: what it is called.
        url: its own page.
        animal, care: of an animal, with what was last noted.
        clutch, tub, tallies: of a clutch; of a hatchling's tub its code and the rows it may be of.
        spot, animals, more: of a place, who is in it.
    """

    title: str
    url: str
    reason: str = ""
    animal: Animal | None = None
    care: Summary | None = None
    clutch: Clutch | None = None
    tub: str = ""
    tallies: tuple[Tally, ...] = ()
    spot: Spot | None = None
    place: Place | None = None
    animals: tuple[Animal, ...] = ()
    more: int = 0

    @property
    def is_withdrawn(self) -> bool:
        """Whether its record counts no more."""
        subject = self.animal or self.clutch or self.place
        return subject is None or subject.is_withdrawn


def labels_page(addresses: list[str]) -> LabelsPage:
    """Return the page of all labels; `addresses` are those of the book as it is reached now."""
    return LabelsPage(
        tuple(reads.sheets()),
        tuple(reads.runs()),
        tuple(reads.leading_elsewhere(addresses)),
        tuple(addresses),
    )


def of_animal(pk: int) -> Scanned:
    """Return what the label of an animal leads to."""
    animal = Animal.objects.select_related("species").get(pk=pk)
    care = summary_of(animal, timezone.localdate())
    name = f"{animal.code} {animal.name}".strip()
    return Scanned(name, reverse("animals-one", args=[pk]), animal=animal, care=care)


def of_clutch(pk: int, tub: int | None) -> Scanned:
    """Return what the label of an egg box leads to; with a number, that of a hatchling's tub."""
    clutch: Clutch = with_parents(Clutch.objects.all()).get(pk=pk)
    url = reverse("clutches-one", args=[pk])
    if tub is None:
        what = "Litter" if clutch.species.bears_live else "Clutch"
        return Scanned(f"{what} {clutch.code}", url, clutch=clutch)
    code = tub_code(tub)
    label = Label.objects.filter(clutch=pk, tub=tub).first()
    # The row it was counted in comes first: the others are there for a look that was mended since.
    rows = sorted(
        reads.tallies_of([pk]), key=lambda one: label is None or one.row.pk != label.row_id
    )
    title = f"{clutch.code} {code}"
    return Scanned(title, url, clutch=clutch, tub=code, tallies=tuple(rows))


def of_place(place: Place) -> Scanned:
    """Return what the label of a place leads to: who is in it and its parts."""
    spot = spot_of(place)
    there = animals_in([one.place.name for one in spot.walk()]) if spot else []
    return Scanned(
        place.name,
        reverse("animals-places-one", args=[place.pk]),
        place=place,
        spot=spot,
        animals=tuple(there[:_MOST]),
        more=max(0, len(there) - _MOST),
    )
