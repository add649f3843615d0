"""A small book of which the truth is known: drawn as the book's own rules say that things are.

Whatever a keeper writes is drawn from the truth: words by sources that are trusted so far, looks by
an eye that errs, laboratories with their rates, clutches with two candidate sires. So a figure of
the book and what an animal carries must agree in the long run.
"""

from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from random import Random

from keeper import models as m
from keeper.domain.book.writing import Writing, writing
from keeper.domain.inference.reading.founders import unsaid_frequencies
from tests.factories import LineFactory, SpeciesFactory, TraitFactory

DAY = date(2026, 6, 1)
TRUSTS = (Fraction(1), Fraction(4, 5), Fraction(1, 2))
MISSES, MISTAKES = Fraction(1, 20), Fraction(1, 50)
COMMON = Fraction(1, 20)

# Copies of each line in an animal, by the line's id.
Genes = dict[int, int]


@dataclass
class Simulated:
    """A book and what its animals carry.

    Attributes:
        genes: animal → copies of each line.
        sires: clutch with two candidates → the true one.
    """

    by: m.Account
    draw: Random
    genes: dict[int, Genes] = field(default_factory=dict)
    sires: dict[int, int] = field(default_factory=dict)
    sex: dict[int, str] = field(default_factory=dict)

    def write(self, founders: int = 14, clutches: int = 8) -> None:
        """Write the whole book, in one entry."""
        self._register()
        with writing(by=self.by, what="Simulated") as book:
            self._sources(book)
            animals = [self._founder(book, number) for number in range(founders)]
            for number in range(clutches):
                animals += self._clutch(book, animals, number)

    def _register(self) -> None:
        """Two recessive lines of one look, a dominant that is misread, one with a background."""
        self.species = SpeciesFactory.create()
        self.pale = TraitFactory.create(species=self.species, name="Saltgrass")
        self.dotted = TraitFactory.create(
            species=self.species, name="Gale", shown=m.Shown.DOMINANT,
            penetrance="4/5", mistaken="1/50", overlooked="1/20",
        )  # fmt: skip
        self.blazed = TraitFactory.create(species=self.species, name="Blaze", shown=m.Shown.SINGLE)
        self.double = TraitFactory.create(
            species=self.species, name="Superblaze", shown=m.Shown.EVERY, base=self.blazed
        )
        self.lines = [
            LineFactory.create(trait=self.pale, code="HAR"),
            LineFactory.create(trait=self.pale, code="PEL"),
            LineFactory.create(trait=self.dotted, code="DUN"),
            LineFactory.create(trait=self.blazed, code="ULV", background=str(COMMON)),
        ]
        for line in self.lines:
            line.refresh_from_db()

    def _sources(self, book: Writing) -> None:
        self.contacts = {
            trust: book.keep(m.Contact(name=f"trusted {trust}", reliability=str(trust)))
            for trust in TRUSTS
        }
        laboratory = m.Laboratory(name="Helix Bench", misses=str(MISSES), mistakes=str(MISTAKES))
        self.laboratory = book.keep(laboratory)

    # --- founders ---------------------------------------------------------------------------

    def _founder(self, book: Writing, number: int) -> m.Animal:
        sex = "female" if number % 2 else "male"
        animal = m.Animal(species=self.species, code=f"{sex[0].upper()}{number}", sex=sex)
        book.keep(animal)
        genes = dict.fromkeys((line.pk for line in self.lines), 0)
        self.genes[animal.pk], self.sex[animal.pk] = genes, sex
        background = self.lines[3]
        genes[background.pk] = sum(self.draw.random() < COMMON for _ in range(2))
        if self.draw.random() < 0.8:
            line = self.draw.choice([None, self.lines[0], self.lines[1]])
            self._word(book, animal, self.lines[:2], line)
        self._word(book, animal, [self.lines[2]], self.lines[2])
        if self.draw.random() < 0.4:
            self._word(book, animal, [background], background)
        if self.draw.random() < 0.7:
            self._look(book, animal)
        if self.draw.random() < 0.2:
            self._test(book, animal)
        return animal

    def _word(
        self, book: Writing, animal: m.Animal, lines: list[m.Line], line: m.Line | None
    ) -> None:
        """What a source says of one trait; it is true as often as the source is trusted."""
        trust = self.draw.choice(TRUSTS)
        claim = self.draw.choice(
            [m.Claim.CARRIES, m.Claim.POSSIBLE, m.Claim.POSSIBLE, m.Claim.CLEAR]
        )
        chance = self.draw.choice([Fraction(1, 2), Fraction(2, 3)])
        spoken = lines if line is None else [line]
        genes = self.genes[animal.pk]
        if self.draw.random() < trust:
            genes.update(dict.fromkeys((one.pk for one in spoken), 0))
            carries = claim == m.Claim.CARRIES or (
                claim == m.Claim.POSSIBLE and self.draw.random() < chance
            )
            if carries:
                genes[self.draw.choice(spoken).pk] = 1
        else:
            for pk, common in unsaid_frequencies(spoken).items():
                genes[pk] = sum(self.draw.random() < common for _ in range(2))
        said = m.Statement(animal=animal, trait=lines[0].trait, line=line, claim=claim)
        said.source = self.contacts[trust]
        said.chance = chance if claim == m.Claim.POSSIBLE else None
        book.keep(said)

    # --- clutches ---------------------------------------------------------------------------

    def _clutch(self, book: Writing, animals: list[m.Animal], number: int) -> list[m.Animal]:
        dams = [one for one in animals if one.sex == "female"]
        males = [one for one in animals if one.sex == "male"]
        candidates = self.draw.sample(males, self.draw.choice([1, 1, 2]))
        dam = self.draw.choice(dams)
        clutch = book.keep(
            m.Clutch(species=self.species, code=f"C{number}", dam=dam, hatched_on=DAY)
        )
        shares = [self.draw.choice([1, 2, 4]) for _ in candidates]
        for sire, share in zip(candidates, shares, strict=True):
            row = m.CandidateSire(clutch=clutch, sire=sire)
            row.share = Fraction(share, 8)
            book.keep(row)
        (true,) = self.draw.choices(candidates, weights=shares)
        if len(candidates) > 1:
            self.sires[clutch.pk] = true.pk
        return [
            one
            for serial in range(self.draw.randint(3, 7))
            if (one := self._hatchling(book, clutch, dam, true, serial)) is not None
        ]

    def _hatchling(
        self, book: Writing, clutch: m.Clutch, dam: m.Animal, sire: m.Animal, serial: int
    ) -> m.Animal | None:
        genes = {
            line.pk: sum(
                self.draw.random() * 2 < self.genes[one.pk][line.pk] for one in (dam, sire)
            )
            for line in self.lines
        }
        if self.draw.random() < 0.4:
            row = book.keep(m.HatchRow(clutch=clutch, count=1, whole=True))
            for trait in self._seen(genes):
                book.keep(m.RowSighting(row=row, trait=trait, seen=True))
            return None
        sex = self.draw.choice(["female", "male"])
        code = f"{clutch.code}-{serial}"
        animal = m.Animal(species=self.species, code=code, sex=sex, clutch=clutch, hatched_on=DAY)
        book.keep(animal)
        self.genes[animal.pk], self.sex[animal.pk] = genes, sex
        if self.draw.random() < 0.8:
            self._look(book, animal)
        if self.draw.random() < 0.15:
            self._test(book, animal)
        return animal

    # --- what is seen and found ---------------------------------------------------------------

    def _seen(self, genes: Genes) -> list[m.Trait]:
        """What a look sees of some genes."""
        first, second, dotted, blazed = (genes[line.pk] for line in self.lines)
        seen = [self.pale] if 2 in (first, second) else []
        shows = dotted > 0 and self.draw.random() < 4 / 5
        if self.draw.random() < (19 / 20 if shows else 1 / 50):
            seen.append(self.dotted)
        if blazed:
            seen.append(self.blazed if blazed == 1 else self.double)
        return seen

    def _look(self, book: Writing, animal: m.Animal) -> None:
        look = book.keep(m.Look(animal=animal, on=DAY, by=self.by))
        for trait in self._seen(self.genes[animal.pk]):
            seen = m.Observation(animal=animal, look=look, trait=trait, seen=m.Seen.YES, on=DAY)
            seen.by = self.by
            book.keep(seen)

    def _test(self, book: Writing, animal: m.Animal) -> None:
        line = self.draw.choice(self.lines[:3])
        there = self.genes[animal.pk][line.pk] > 0
        found = self.draw.random() < (1 - MISSES if there else MISTAKES)
        book.keep(
            m.LabTest(
                animal=animal, line=line, laboratory=self.laboratory, on=DAY,
                found=m.Found.CARRIES if found else m.Found.NONE,
            )
        )  # fmt: skip
