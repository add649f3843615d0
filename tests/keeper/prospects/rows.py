"""A small yard that thinks of buying: two looks, one of them from three lines, and a project."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from keeper.domain.book.writing import writing
from keeper.domain.projects import writes as projects
from keeper.domain.projects.writes import Requirement
from keeper.domain.prospects.writes import keep_prospect
from keeper.models import (
    Account,
    Animal,
    Contact,
    Line,
    OpenPair,
    Project,
    Prospect,
    ProspectWord,
    Species,
    Statement,
)
from tests.factories import LineFactory, SpeciesFactory, TraitFactory


@dataclass(frozen=True)
class Yard:
    """Saltgrass from Harvesk, Pelnaw and Torle, Quillwort from Dunsk; who is here, who sells.

    Pelnaw is another gene than Harvesk; whether Torle is one with it is open.
    """

    species: Species
    har: Line
    pel: Line
    tor: Line
    dun: Line
    seller: Contact
    project: Project
    by: Account

    def here(self, code: str, sex: str, *said: tuple[Line, str]) -> Animal:
        """An animal of the yard that certainly is what is said: (line, claim)."""
        with writing(by=self.by, what=f"Added {code}") as book:
            animal = book.keep(Animal(species=self.species, code=code, sex=sex))
            for line, claim in said:
                book.keep(Statement(animal=animal, trait=line.trait, line=line, claim=claim))
        return animal

    def word(
        self, line: Line | None, claim: str, chance: str | None = None, **more: Any
    ) -> ProspectWord:
        """What is said of a prospect; without a line, of Saltgrass."""
        trait = line.trait if line else self.har.trait
        return ProspectWord(trait=trait, line=line, claim=claim, chance=chance, **more)

    def prospect(self, *words: ProspectWord, **given: Any) -> Prospect:
        """An animal on offer, written down as the app does."""
        values = {"name": "grey female", "sex": "female", "seen_on": date(2026, 9, 1)}
        values |= {"species": self.species, "source": self.seller, **given}
        prospect = Prospect(**values)
        keep_prospect(prospect=prospect, words=words, by=self.by)
        return prospect


def yard(by: Account) -> Yard:
    """Write the yard; its project wants Saltgrass HAR and Quillwort seen on one animal."""
    species = SpeciesFactory.create(name="royal python")
    salt = TraitFactory.create(species=species, name="Saltgrass")
    quill = TraitFactory.create(species=species, name="Quillwort")
    har = LineFactory.create(trait=salt, code="HAR", name="Harvesk")
    pel = LineFactory.create(trait=salt, code="PEL", name="Pelnaw")
    tor = LineFactory.create(trait=salt, code="TOR", name="Torle")
    dun = LineFactory.create(trait=quill, code="DUN", name="Dunsk")
    seller = Contact(name="Ansel of Pelnaw", reach="ansel@keeper.example")
    project = Project(species=species, name="Double tide")
    with writing(by=by, what="Wrote a yard") as book:
        book.keep(OpenPair(one=har, other=tor))
        book.keep(seller)
    parts = [Requirement(salt, har, "shows"), Requirement(quill, None, "shows")]
    projects.start_project(project=project, parts=parts, by=by)
    return Yard(species, har, pel, tor, dun, seller, project, by)
