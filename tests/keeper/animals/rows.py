"""Animals entered the way a keeper enters them, for tests of their pages."""

from datetime import date

from keeper.domain.animals.looks import Looked
from keeper.domain.animals.writes import Arrival, add_animal
from keeper.domain.book.writing import writing
from keeper.models import (
    Account,
    Animal,
    CandidateSire,
    Clutch,
    Contact,
    HatchRow,
    Line,
    RowSighting,
    Statement,
)
from tests.factories import LineFactory, SpeciesFactory, TraitFactory


def saltgrass_har() -> Line:
    """A recessive line of a royal python."""
    python = SpeciesFactory.create(name="royal python")
    trait = TraitFactory.create(species=python, name="Saltgrass")
    return LineFactory.create(trait=trait, code="HAR", name="Harvesk")


def het(line: Line, by: Account, code: str = "F-014", sex: str = "female") -> Animal:
    """A founder sold as a possible het of the line."""
    animal = Animal(species=line.trait.species, code=code, sex=sex, hatched_on=date(2021, 6, 12))
    said = Statement(trait=line.trait, line=line, claim="possible", chance="2/3")
    arrival = Arrival(animal, contact=Contact(name="Ines Varga"), statements=[said])
    add_animal(arrival=arrival, by=by)
    return animal


def visual(line: Line, by: Account, code: str = "M-003", sex: str = "male") -> Animal:
    """A founder seen to show the line's trait."""
    animal = Animal(species=line.trait.species, code=code, sex=sex, hatched_on=date(2020, 7, 1))
    said = Statement(trait=line.trait, line=line, claim="visual")
    looked = Looked(date(2021, 1, 1), seen=[line.trait])
    add_animal(arrival=Arrival(animal, statements=[said], looked=looked), by=by)
    return animal


def hatch(dam: Animal, sire: Animal, line: Line, *, shown: int, plain: int, by: Account) -> Clutch:
    """A clutch of which so many showed the line's trait and so many did not."""
    with writing(by=by, what=f"Hatched of {dam}") as book:
        laid = date(2024, 4, 1)
        clutch = Clutch(species=dam.species, code=f"C-{dam.code}", dam=dam, laid_on=laid)
        book.keep(clutch)
        book.keep(CandidateSire(clutch=clutch, sire=sire))
        for count, seen in ((shown, True), (plain, False)):
            if count:
                row = book.keep(HatchRow(clutch=clutch, count=count))
                book.keep(RowSighting(row=row, trait=line.trait, seen=seen))
    return clutch
