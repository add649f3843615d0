"""Rows for tests of the way of a clutch, written as the app writes them."""

from datetime import date

from keeper import models as m
from keeper.domain.breeding import writes
from keeper.domain.clutches.hatching import Counted, Hatch, log_hatch
from keeper.domain.clutches.writes import Candidate, lay_clutch
from tests.factories import AnimalFactory, SpeciesFactory


class Yard:
    """A species with a female and two males."""

    def __init__(self, by: m.Account, **species: object) -> None:
        self.by = by
        made = SpeciesFactory.create(**{"alone_known": True, **species})
        # Read again, so that chances are fractions.
        self.species = m.Species.objects.get(pk=made.pk)
        self.dam = self.animal("F-1", "female")
        self.one = self.animal("M-1", "male")
        self.other = self.animal("M-2", "male")

    def animal(self, code: str, sex: str) -> m.Animal:
        """An animal of the species."""
        animal: m.Animal = AnimalFactory.create(species=self.species, code=code, sex=sex)
        return animal

    def note(
        self, kind: str, on: date, sire: m.Animal | None = None, dam: m.Animal | None = None
    ) -> m.BreedingEvent:
        """Something seen or done with the female."""
        event = m.BreedingEvent(dam=dam or self.dam, kind=kind, on=on, sire=sire)
        writes.note_event(event=event, by=self.by)
        return event

    def lay(self, code: str, on: date, *, eggs: int = 5, dam: m.Animal | None = None) -> m.Clutch:
        """A clutch of the female and the first male."""
        clutch = m.Clutch(
            species=self.species, code=code, dam=dam or self.dam, laid_on=on, eggs=eggs
        )
        lay_clutch(clutch=clutch, candidates=[Candidate(self.one)], by=self.by)
        return clutch

    def hatch(self, clutch: m.Clutch, on: date, *, count: int, lost: int = 0, own: int = 0) -> None:
        """So many hatchlings that look normal, some of them with a record."""
        row = Counted(frozenset(), frozenset(), m.Sex.UNKNOWN, count, record=own)
        eggs = clutch.eggs
        hatch = Hatch(on, eggs, 0, lost, [row], still_open=True)
        log_hatch(clutch=m.Clutch.objects.get(pk=clutch.pk), hatch=hatch, by=self.by)

    def step(
        self, clutch: m.Clutch, kind: str, on: date, count: int | None = None, lost: int = 0
    ) -> m.ClutchStep:
        """A step of a clutch."""
        fresh = m.Clutch.objects.get(pk=clutch.pk)
        step = m.ClutchStep(clutch=fresh, kind=kind, on=on, count=count)
        writes.note_step(step=step, lost=lost, by=self.by)
        return step
