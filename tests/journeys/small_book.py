"""A few related animals, written the way a keeper writes them, so that their numbers are real."""

from dataclasses import dataclass
from datetime import date

from keeper.domain.book.writing import writing
from keeper.models import (
    Account,
    Animal,
    CandidateSire,
    Claim,
    Clutch,
    Contact,
    Line,
    Locus,
    Observation,
    Species,
    Statement,
    Trait,
)


@dataclass(frozen=True)
class SmallBook:
    """Two recessive genes; visual founders, a clutch of hets of both, their possible young."""

    species: Species
    saltgrass: Line
    quillwort: Line
    animals: dict[str, Animal]


def small_book(by: Account) -> SmallBook:
    """Write the book: F-1 × M-1 gave K-1 and K-2, of which R-1 to R-3 are the young."""
    with writing(by=by, what="Wrote a small book") as book:
        species = book.keep(
            Species(
                name="royal python",
                scientific_name="Python regius",
                sex_determination="XY",
                cautions="Warm side about 31 °C (the keeper's own note).",
            )
        )
        lines = {}
        for name, code, place in (("Saltgrass", "HAR", "Harvesk"), ("Quillwort", "DUN", "Dunsk")):
            locus = book.keep(Locus(species=species, name=name))
            trait = book.keep(Trait(species=species, name=name))
            lines[name] = book.keep(Line(trait=trait, locus=locus, code=code, name=place))
        animals: dict[str, Animal] = {}

        def add(code: str, sex: str, clutch: Clutch | None = None) -> Animal:
            year = 2020 if clutch is None else 2023 if clutch.code == "23-01" else 2026
            animals[code] = book.keep(
                Animal(
                    species=species,
                    code=code,
                    sex=sex,
                    sex_told="popped",
                    clutch=clutch,
                    hatched_on=date(year, 7, 3),
                )
            )
            return animals[code]

        def breed(code: str, dam: Animal, sire: Animal) -> Clutch:
            clutch = book.keep(
                Clutch(
                    species=species, code=code, dam=dam, laid_on=date(2000 + int(code[:2]), 5, 1)
                )
            )
            book.keep(CandidateSire(clutch=clutch, sire=sire))
            return clutch

        def look(animal: Animal, line: Line, seen: str) -> None:
            day = animal.hatched_on or date(2026, 7, 3)
            book.keep(Observation(animal=animal, trait=line.trait, seen=seen, on=day, by=by))

        dam, sire = add("F-1", "female"), add("M-1", "male")
        look(dam, lines["Saltgrass"], "yes")
        source = book.keep(Contact(name="Ansel of Pelnaw"))
        book.keep(
            Statement(
                animal=sire,
                trait=lines["Quillwort"].trait,
                line=lines["Quillwort"],
                claim=Claim.CARRIES,
                source=source,
            )
        )
        first = breed("23-01", dam, sire)
        pair = add("K-1", "female", first), add("K-2", "male", first)
        second = breed("26-01", *pair)
        for number, sex in ((1, "female"), (2, "male"), (3, "female")):
            young = add(f"R-{number}", sex, second)
            look(young, lines["Saltgrass"], "yes" if number == 1 else "no")
            look(young, lines["Quillwort"], "no")
    return SmallBook(species, lines["Saltgrass"], lines["Quillwort"], animals)
