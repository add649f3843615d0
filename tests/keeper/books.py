"""A small book for tests of numbers: one recessive trait with one line, and ways to fill it."""

from datetime import date

from keeper import models as m
from keeper.domain.book.writing import Writing, writing
from keeper.domain.saying.figures import carrier_percent
from tests.factories import LineFactory, SpeciesFactory, TraitFactory


class Book:
    """Saltgrass HAR in one species. Everything is written as the app writes it."""

    def __init__(self, by: m.Account, **species: str) -> None:
        self.by = by
        self.species = SpeciesFactory.create(**species)
        self.trait = TraitFactory.create(species=self.species, name="Saltgrass")
        self.line = LineFactory.create(trait=self.trait, code="HAR")

    def founder(
        self,
        code: str,
        sex: str,
        claim: str = "",
        chance: str | None = None,
        line: m.Line | None = None,
    ) -> m.Animal:
        """A founder and what is said of it; of the book's one line if no other is named."""
        with writing(by=self.by, what=f"Added {code}") as book:
            animal = book.keep(m.Animal(species=self.species, code=code, sex=sex))
            if claim:
                self.say(book, animal, claim, chance, line or self.line)
        return animal

    def say(
        self, book: Writing, animal: m.Animal, claim: str, chance: str | None, line: m.Line
    ) -> None:
        """Write down what a source says."""
        book.keep(
            m.Statement(animal=animal, trait=line.trait, line=line, claim=claim, chance=chance)
        )

    def clutch(
        self, code: str, dam: m.Animal | None, *sires: m.Animal | None, **rows: int
    ) -> m.Clutch:
        """A clutch with so many visual and normal hatchlings, without records."""
        with writing(by=self.by, what=f"Hatched {code}") as book:
            clutch = book.keep(m.Clutch(species=self.species, code=code, dam=dam))
            for sire in sires:
                book.keep(m.CandidateSire(clutch=clutch, sire=sire))
            for look, count in rows.items():
                row = book.keep(m.HatchRow(clutch=clutch, count=count))
                book.keep(m.RowSighting(row=row, trait=self.trait, seen=look == "visual"))
        return clutch

    def young(
        self, code: str, clutch: m.Clutch, seen: bool | None = False, sex: str = "unknown"
    ) -> m.Animal:
        """A hatchling with a record, looked at unless `seen` is None."""
        with writing(by=self.by, what=f"Recorded {code}") as book:
            animal = book.keep(m.Animal(species=self.species, code=code, clutch=clutch, sex=sex))
            if seen is not None:
                self.look(book, animal, seen=seen)
        return animal

    def look(self, book: Writing, animal: m.Animal, *, seen: bool) -> None:
        """Write down that the trait was or was not seen."""
        book.keep(
            m.Observation(
                animal=animal,
                trait=self.trait,
                seen=m.Seen.YES if seen else m.Seen.NO,
                on=date(2026, 6, 1),
                by=self.by,
            )
        )

    def said(self, animal: m.Animal) -> tuple[str, str]:
        """The word and the figure of the trait on an animal."""
        one = m.Standing.objects.filter(animal=animal, trait=self.trait, line=None).first()
        return ("absent", "0 %") if one is None else (one.word, carrier_percent(one))
