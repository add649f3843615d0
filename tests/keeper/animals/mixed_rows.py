"""A look of two genes: Saltgrass HAR at one locus, DUN at another, in a book of their own."""

from keeper import models as m
from keeper.domain.book.writing import writing
from tests.factories import LineFactory
from tests.keeper.books import Book


class TwoGenes(Book):
    """A book whose one look has two genes, and animals in which they mix."""

    def __init__(self, by: m.Account) -> None:
        super().__init__(by)
        self.other = LineFactory.create(trait=self.trait, code="DUN", name="Dunsk")
        self.line.name = "Harvesk"
        self.line.save()

    def mixed_pair(self) -> tuple[m.Animal, m.Animal]:
        """A female and a male that certainly have one copy of each gene, bred from visuals."""
        dam = self.founder("F1", "female", "visual")
        sire = self.founder("M1", "male", "visual", line=self.other)
        clutch = self.clutch("C1", dam, sire)
        return (
            self.young("K1", clutch, seen=False, sex="female"),
            self.young("K2", clutch, seen=False, sex="male"),
        )

    def visual_of_mixed(self, sex: str = "male") -> m.Animal:
        """A visual of such a pair: its look does not tell by which gene."""
        return self.young("V1", self.clutch("C2", *self.mixed_pair()), seen=True, sex=sex)

    def unnamed_visual(self, code: str, sex: str) -> m.Animal:
        """A founder sold as a visual, line not known."""
        with writing(by=self.by, what=f"Added {code}") as book:
            animal = book.keep(m.Animal(species=self.species, code=code, sex=sex))
            book.keep(m.Statement(animal=animal, trait=self.trait, claim="visual"))
            self.look(book, animal, seen=True)
        return animal


def standing_of(animal: m.Animal) -> m.Standing:
    """The standing of the look over all lines."""
    return m.Standing.objects.select_related("trait").get(animal=animal, line=None)
