"""Books in which records cannot all be true, one for each kind of thing that may be behind it."""

from collections.abc import Callable
from datetime import date
from typing import Any

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.explaining import Kind
from tests.factories import LineFactory, LocusFactory, TraitFactory
from tests.keeper.books import Book

Numbers = dict[tuple[int, int, int | None], tuple[Any, ...]]
_COLUMNS = (
    *("two", "one", "none", "mixed", "error", "customary", "word", "clean_young"),
    "dispute__fingerprint",
)


def numbers() -> Numbers:
    """Every standing of the book, all columns but the entry that wrote it."""
    rows = m.Standing.objects.values_list("animal", "trait", "line", *_COLUMNS)
    return {row[:3]: row[3:] for row in rows}


def misread(book: Book) -> None:
    """Two visuals have a normal hatchling."""
    clutch = book.clutch("C1", *visuals(book))
    book.young("K1", clutch, seen=True)
    book.young("K2", clutch, seen=False)


def visuals(book: Book) -> tuple[m.Animal, m.Animal]:
    """A pair of visuals, as said."""
    return book.founder("F1", "female", "visual"), book.founder("M1", "male", "visual")


def laboratories(book: Book) -> m.Animal:
    """Two laboratories that are never wrong, and do not agree."""
    animal = book.founder("F1", "female", "possible", "2/3")
    for name, found in (("Cove", "carries"), ("Fell", "none")):
        with writing(by=book.by, what=f"{name}: {found}") as entry:
            laboratory = entry.keep(m.Laboratory(name=name, misses="0", mistakes="0"))
            entry.keep(
                m.LabTest(
                    animal=animal, line=book.line, found=found, laboratory=laboratory,
                    on=date(2026, 5, 1),
                )
            )  # fmt: skip
    return animal


def wrong_word(book: Book) -> None:
    """It is said not to carry what is seen on it."""
    animal = book.founder("F1", "female", "clear")
    with writing(by=book.by, what="Looked") as entry:
        book.look(entry, animal, seen=True)


def out_of_nowhere(book: Book) -> None:
    """A visual and a male of whom nothing is said have a visual; her earlier mate is a carrier."""
    dam = book.founder("F1", "female", "visual")
    early, late = book.founder("M1", "male", "carries"), book.founder("M2", "male")
    for code, sire, day in (("C1", early, date(2025, 5, 1)), ("C2", late, date(2026, 5, 1))):
        clutch = book.clutch(code, dam, sire, normal=2)
        clutch.laid_on = day
        with writing(by=book.by, what=f"Laid {code}") as entry:
            entry.keep(clutch)
    book.young("K1", clutch, seen=True)


def alone(book: Book) -> None:
    """A carrier, of whose kind it is known, has a visual with a male who does not carry it."""
    book.species.alone_known = True
    with writing(by=book.by, what="Known of them") as entry:
        entry.keep(book.species)
    dam, sire = book.founder("F1", "female", "carries"), book.founder("M1", "male", "clear")
    book.young("K1", book.clutch("C1", dam, sire), seen=True)


def other_dam(book: Book) -> None:
    """A carrier has a visual with a female who does not carry it."""
    dam, sire = book.founder("F1", "female", "clear"), book.founder("M1", "male", "carries")
    book.young("K1", book.clutch("C1", dam, sire), seen=True)


def wrong_parents(book: Book) -> None:
    """A normal animal has two visuals in its papers."""
    dam, sire = visuals(book)
    with writing(by=book.by, what="Bought K1") as entry:
        young = entry.keep(m.Animal(species=book.species, code="K1", dam=dam, sire=sire))
        book.look(entry, young, seen=False)


def two_lines(book: Book, *, together: bool) -> None:
    """Visuals of two lines, of one gene or of two, whose young show the opposite."""
    locus = {"locus": book.line.locus} if together else {"locus__species": book.species}
    other = LineFactory.create(trait=book.trait, code="PEL", **locus)
    dam = book.founder("F1", "female", "visual")
    sire = book.founder("M1", "male", "visual", line=other)
    book.clutch("C1", dam, sire, **{"normal" if together else "visual": 4})


def crossed_over(book: Book) -> None:
    """A sire that has the gene on his X, from his dam, has a son that shows it."""
    book.trait = TraitFactory.create(species=book.species, name="Gale", shown="dominant")
    locus = LocusFactory.create(species=book.species, chromosome="both")
    book.line = LineFactory.create(trait=book.trait, code="DUN", locus=locus)
    mother, father = book.founder("F1", "female", "carries"), book.founder("M1", "male", "clear")
    sire = book.young("K1", book.clutch("C1", mother, father), seen=True, sex="male")
    mate = book.founder("F2", "female", "clear")
    book.young("K2", book.clutch("C2", mate, sire), seen=True, sex="male")


def began_elsewhere(book: Book) -> None:
    """A gene began with the young of a clear pair, it is said; a laboratory finds none in it."""
    dam, sire = book.founder("F1", "female", "clear"), book.founder("M1", "male", "clear")
    young = book.young("K1", book.clutch("C1", dam, sire), seen=None)
    with writing(by=book.by, what="It began with K1") as entry:
        entry.keep(m.Arising(animal=young, line=book.line))
    with writing(by=book.by, what="Tested K1") as entry:
        laboratory = entry.keep(m.Laboratory(name="Cove", misses="0", mistakes="0"))
        found = m.LabTest(animal=young, line=book.line, found="none", laboratory=laboratory)
        found.on = date(2026, 5, 1)
        entry.keep(found)


# Which book has an explanation of the kind.
BOOKS: dict[Kind, Callable[[Book], object]] = {
    Kind.LOOK: misread,
    Kind.RESULT: laboratories,
    Kind.WORD: wrong_word,
    Kind.UNDECLARED: out_of_nowhere,
    Kind.STORED: out_of_nowhere,
    Kind.OTHER_SIRE: out_of_nowhere,
    Kind.SECOND_SIRE: out_of_nowhere,
    Kind.ALONE: alone,
    Kind.WRONG_DAM: other_dam,
    Kind.MIXED_UP: misread,
    Kind.PEDIGREE: wrong_parents,
    Kind.ONE_GENE: lambda book: two_lines(book, together=False),
    Kind.TWO_GENES: lambda book: two_lines(book, together=True),
    Kind.CROSSOVER: crossed_over,
    Kind.MUTATION: out_of_nowhere,
    Kind.BEGINNING: began_elsewhere,
}
