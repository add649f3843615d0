"""A small book with two lines of one look of which nobody is sure, for tests of compatibility."""

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.register.placing import Place, add_line, weigh_pair
from tests.keeper.books import Book


class InDoubt(Book):
    """Saltgrass HAR and QUE, an open pair at even odds."""

    def __init__(self, by: m.Account, **species: str) -> None:
        super().__init__(by, **species)
        self.har = self.line
        self.que = m.Line(trait=self.trait, code="QUE", name="Quern")
        add_line(line=self.que, place=Place(open_with={self.har: m.read_chance("1/2")}), by=by)
        self.pair: m.OpenPair = m.OpenPair.objects.get()

    def visual(self, code: str, sex: str, line: m.Line) -> m.Animal:
        """A visual of a line, on its source's word."""
        return self.founder(code, sex, "double", line=line)

    def word(self, *, one_gene: bool, weight: str) -> m.PairWord:
        """What somebody says of the two."""
        with writing(by=self.by, what="Said") as book:
            word: m.PairWord = book.keep(
                m.PairWord(one=self.har, other=self.que, one_gene=one_gene, weight=weight)
            )
        return word

    def weigh(self, prior: str) -> None:
        """Hold one gene for so likely."""
        self.pair.prior = m.read_chance(prior)
        weigh_pair(pair=self.pair, by=self.by)

    def another(self, code: str) -> m.Line:
        """A further line of the look: another gene."""
        line = m.Line(trait=self.trait, code=code, name=code.title())
        add_line(line=line, place=Place(), by=self.by)
        return line

    def opened(self, one: m.Line, other: m.Line) -> m.OpenPair:
        """An open pair at even odds."""
        with writing(by=self.by, what="Nobody is sure") as book:
            pair: m.OpenPair = book.keep(m.OpenPair(one=one, other=other))
        return pair

    def reread(self) -> tuple[m.Line, m.Line]:
        """The two lines as they sit now."""
        found = m.Line.objects.select_related("trait__species", "locus")
        return found.get(pk=self.har.pk), found.get(pk=self.que.pk)
