"""A small yard: two generations above an animal, its young by two mates."""

from dataclasses import dataclass

from keeper.domain.book.writing import writing
from keeper.models import Account, Animal, Clutch
from tests.keeper.books import Book


@dataclass(frozen=True)
class Yard:
    """Who is in it, by code."""

    book: Book
    clutch: Clutch

    def __getitem__(self, code: str) -> Animal:
        found: Animal = Animal.objects.get(code=code)
        return found


def yard(by: Account) -> Yard:
    """G-1 × G-2 gave D-1; D-1 × S-1 gave K-1 and K-2 and three without a record."""
    book = Book(by)
    grandsire = book.founder("G-1", "male", "visual")
    granddam = book.founder("G-2", "female", "possible", "2/3")
    dam = book.young("D-1", book.clutch("C-1", granddam, grandsire), seen=False, sex="female")
    sire = book.founder("S-1", "male", "visual")
    clutch = book.clutch("C-2", dam, sire, normal=3)
    book.young("K-1", clutch, seen=True, sex="female")
    book.young("K-2", clutch, seen=False, sex="male")
    return Yard(book, clutch)


def die(animal: Animal, by: Account) -> None:
    """Write down that an animal died."""
    animal.status = "died"
    with writing(by=by, what=f"{animal} died") as book:
        book.keep(animal)
