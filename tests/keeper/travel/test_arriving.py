"""Animals and results pass between books as they would be known in one."""

from datetime import date
from uuid import UUID

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from tests.factories import LineFactory
from tests.keeper.books import Book
from tests.keeper.travel.books import OtherBook, brought, carries, file_of

DAY = date(2026, 6, 1)
SOLD = UUID("6f2b8f4e-2d0a-4a53-9f0e-1b6a1f3c9d21")


def breeder(book: Book) -> m.Animal:
    """A possible carrier with sibs that tell of its parents; it is sold."""
    dam = book.founder("F1", "female", "possible", "2/3")
    sire = book.founder("M1", "male", "carries")
    clutch = book.clutch("C1", dam, sire, normal=5)
    book.young("C1-b", clutch, sex="male")
    sold = book.young("C1-a", clutch, sex="female")
    m.Animal.objects.filter(pk=sold.pk).update(identity=SOLD)
    return m.Animal.objects.get(pk=sold.pk)


def bred(book: Book, sold: m.Animal, *, visual: int = 0) -> None:
    """What its buyer bred from it: with a visual, and with a possible carrier."""
    visual_mate = book.founder("M8", "male", "visual")
    other = book.founder("M9", "male", "possible", "1/2")
    rows = {"normal": 3} | ({"visual": visual} if visual else {})
    book.clutch("B1", sold, visual_mate, **rows)
    book.clutch("B2", sold, other, normal=4)


def everything(another: OtherBook, *, visual: int = 0) -> dict[str, float]:
    """What one book says that had all of it."""
    with another("everything") as book:
        bred(book, breeder(book), visual=visual)
        codes = m.Animal.objects.values_list("code", flat=True)
        return {code: carries(code) for code in codes}


def test_an_animal_arrives_with_its_figures(another: OtherBook) -> None:
    with another("breeder") as book:
        sold = breeder(book)
        stated, file = carries(sold), file_of(sold, book.by)
    with another("buyer") as book:
        paper = brought(file, book.by)
        assert carries("C1-a") == pytest.approx(stated, abs=1e-12)
        one = m.Standing.objects.get(animal=paper.animal, line=None)
        assert (one.word, str(paper.animal.identity)) == ("stated", str(SOLD))
        assert inference.differences() == []


def test_its_figures_go_on_as_in_a_book_that_had_everything(another: OtherBook) -> None:
    whole = everything(another)
    with another("breeder") as book:
        file = file_of(breeder(book), book.by)
    with another("buyer") as book:
        paper = brought(file, book.by)
        bred(book, paper.animal)
        for code in ("C1-a", "M8", "M9"):
            assert carries(code) == pytest.approx(whole[code], abs=1e-9), code
        assert inference.differences() == []


@pytest.mark.parametrize("visual", [0, 2])
def test_what_it_bred_goes_back_and_counts_there(another: OtherBook, visual: int) -> None:
    whole = everything(another, visual=visual)
    with another("breeder") as book:
        file = file_of(breeder(book), book.by)
    with another("buyer") as book:
        paper = brought(file, book.by)
        bred(book, paper.animal, visual=visual)
        back = file_of(paper.animal, book.by)
    with another("breeder again") as book:
        sold = breeder(book)
        assert carries(sold) != pytest.approx(whole["C1-a"], abs=1e-3)
        paper = brought(back, book.by)
        assert (paper.animal, paper.brings) == (sold, "results")
        for code in ("C1-a", "C1-b", "F1", "M1"):
            assert carries(code) == pytest.approx(whole[code], abs=1e-9), code
        assert inference.differences() == []
        # It is the buyer's word, and nothing that was seen here.
        assert m.Standing.objects.get(animal=sold, line=None).word in ("stated", "possible")


def test_results_are_worth_what_their_signer_is_trusted(another: OtherBook) -> None:
    with another("breeder") as book:
        file = file_of(breeder(book), book.by)
    with another("buyer") as book:
        paper = brought(file, book.by)
        bred(book, paper.animal)
        back = file_of(paper.animal, book.by)
    found = []
    for trust in ("0", "1/2", "1"):
        with another(f"breeder who trusts {trust.replace('/', ' in ')}") as book:
            before = carries(breeder(book))
            brought(back, book.by, trust=trust)
            found.append(carries("C1-a"))
    assert found[0] == before
    # Half the trust is no half of the way: it is the chance of each, weighed by what was seen.
    assert found[2] < found[1] < found[0]


def test_a_doubted_arrival_is_what_it_is_said_to_be_or_anything(another: OtherBook) -> None:
    with another("breeder") as book:
        sold = breeder(book)
        stated, file = carries(sold), file_of(sold, book.by)
    with another("buyer") as book:
        brought(file, book.by, trust="1/2")
        common = 1 - 0.99**2
        assert carries("C1-a") == pytest.approx((stated + common) / 2, abs=1e-12)


def test_an_arrival_is_taken_back_whole(another: OtherBook) -> None:
    with another("breeder") as book:
        file = file_of(breeder(book), book.by)
    with another("buyer") as book:
        paper = brought(file, book.by)
        entry = m.DaybookEntry.objects.latest("pk")
        undo(entry=entry, by=book.by)
        assert not m.Animal.objects.live().exists()
        assert not m.Contact.objects.live().exists()
        assert not m.Statement.objects.live().exists()
        # And it can come again.
        assert brought(file, book.by).animal == paper.animal
        assert not inference.differences()


def test_the_same_paper_comes_once_and_a_newer_one_takes_its_place(another: OtherBook) -> None:
    with another("breeder") as book:
        sold = breeder(book)
        first = file_of(sold, book.by)
        assert sold.clutch is not None
        # Later one of its sibs shows it: both parents are carriers.
        book.young("C1-c", sold.clutch, seen=True)
        stated, second = carries(sold), file_of(sold, book.by)
    with another("buyer") as book:
        paper = brought(first, book.by)
        osk = paper.source
        with pytest.raises(Refused, match="in the book already"):
            brought(first, book.by)
        newer = brought(second, book.by, source=osk, key_compared=False)
        assert newer.animal == paper.animal
        assert carries("C1-a") == pytest.approx(stated, abs=1e-12) == 2 / 3
        assert m.Statement.objects.live().count() == 1


def test_its_own_results_are_not_counted_twice_when_newer_papers_come(another: OtherBook) -> None:
    whole = everything(another)
    with another("breeder") as book:
        first = file_of(breeder(book), book.by)
    with another("buyer") as book:
        paper = brought(first, book.by)
        bred(book, paper.animal)
        back = file_of(paper.animal, book.by)
        sheet = m.Sheet.objects.get()
        kept = {"digest": sheet.digest, "signed": sheet.signed, "signature": sheet.signature}
    with another("breeder") as book:
        sold = breeder(book)
        brought(back, book.by)
        second = file_of(sold, book.by)
    with another("buyer") as book:
        paper = brought(first, book.by)
        bred(book, paper.animal)
        file_of(paper.animal, book.by)
        m.Sheet.objects.update(**kept)
        brought(second, book.by, source=paper.source)
        assert carries("C1-a") == pytest.approx(whole["C1-a"], abs=1e-9)


def test_a_paper_of_this_book_is_refused(another: OtherBook) -> None:
    with another("breeder") as book:
        file = file_of(breeder(book), book.by)
        with pytest.raises(Refused, match="here it is known"):
            brought(file, book.by)


def test_a_key_that_was_never_seen_has_to_be_compared(another: OtherBook) -> None:
    with another("breeder") as book:
        file = file_of(breeder(book), book.by)
    with another("buyer") as book:
        with pytest.raises(Refused, match="Compare its fingerprint"):
            brought(file, book.by, key_compared=False)
        assert not m.Animal.objects.exists()


def two_lines(book: Book, *, together: bool) -> tuple[m.Line, m.Line]:
    """A second line, one gene with the first or another one."""
    pel = LineFactory.create(
        trait=book.trait, code="PEL", name="Pelnaw", locus__species=book.species,
        **({"locus": book.line.locus} if together else {}),
    )  # fmt: skip
    return book.line, pel


def compound(book: Book) -> m.Animal:
    """A visual of which nobody can tell the lines."""
    dam = book.founder("F1", "female", "visual")
    with writing(by=book.by, what="Added M1") as entry:
        sire = entry.keep(m.Animal(species=book.species, code="M1", sex="male"))
        entry.keep(m.Statement(animal=sire, trait=book.trait, claim="visual"))
    return book.young("K1", book.clutch("C1", dam, sire), seen=True, sex="female")


def by_line(code: str) -> dict[str, tuple[float, float]]:
    rows = m.Standing.objects.filter(animal__code=code).select_related("line")
    return {one.line.code if one.line else "": (one.two, one.one) for one in rows}


@pytest.mark.parametrize("together", [True, False])
def test_lines_are_told_apart_where_they_arrive(another: OtherBook, together: bool) -> None:
    with another("breeder") as book:
        two_lines(book, together=together)
        sold = compound(book)
        stated, file = by_line(sold.code), file_of(sold, book.by)
    with another("buyer") as book:
        two_lines(book, together=together)
        brought(file, book.by)
        found = by_line(sold.code)
        assert found.keys() == stated.keys()
        for line, chances in stated.items():
            assert found[line] == pytest.approx(chances, abs=1e-12)
        assert inference.differences() == []


def test_lines_that_are_one_gene_here_and_two_there_are_refused(another: OtherBook) -> None:
    with another("breeder") as book:
        _, pel = two_lines(book, together=False)
        dam = book.founder("F1", "female", "visual")
        sire = book.founder("M1", "male", "visual", line=pel)
        first = book.clutch("C1", dam, sire)
        pair = [book.young(f"C1-{sex}", first, sex=sex) for sex in ("female", "male")]
        sold = book.young("K1", book.clutch("C2", *pair), seen=True)
        with writing(by=book.by, what="Tested K1") as entry:
            laboratory = entry.keep(m.Laboratory(name="Assay"))
            for line, found in ((book.line, "two"), (pel, "one")):
                test = m.LabTest(animal=sold, line=line, found=found, laboratory=laboratory, on=DAY)
                entry.keep(test)
        file = file_of(sold, book.by)
    with another("buyer") as book:
        two_lines(book, together=True)
        with pytest.raises(Refused, match="which are one gene in this book"):
            brought(file, book.by)


def test_an_x_linked_gene_travels_with_its_single_copy(another: OtherBook) -> None:
    def sex_linked(book: Book) -> None:
        m.Species.objects.update(sex_determination="XY")
        m.Locus.objects.update(chromosome="one")

    with another("breeder") as book:
        sex_linked(book)
        dam = book.founder("F1", "female", "carries")
        clutch = book.clutch("C1", dam, book.founder("M1", "male"))
        son = book.young("C1-a", clutch, seen=None, sex="male")
        stated, file = carries(son), file_of(son, book.by)
    with another("buyer") as book:
        sex_linked(book)
        brought(file, book.by)
        assert carries("C1-a") == pytest.approx(stated, abs=1e-12) == 0.5
        assert inference.differences() == []
