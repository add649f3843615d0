"""What test matings tell: worked by hand, and against what the book says once they are entered."""

from math import comb

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference import Suspect, Trial
from keeper.models import Account
from tests.factories import LineFactory, LocusFactory
from tests.keeper.books import Book


@pytest.fixture
def book(owner: Account) -> Book:
    return Book(owner, sex_determination="ZW")


def trials(
    book: Book, suspect: m.Animal, *mates: m.Animal, line: m.Line | None = None
) -> list[Trial]:
    (found,) = inference.trials([Suspect(now(suspect), book.trait, line, mates)])
    assert found is not None
    return list(found)


def now(animal: m.Animal) -> m.Animal:
    """The animal with its species, as they are in the database."""
    found: m.Animal = m.Animal.objects.select_related("species").get(pk=animal.pk)
    return found


def with_visual(book: Book, chance: str) -> tuple[m.Animal, m.Animal]:
    """A possible carrier and a visual male."""
    dam = book.founder("F1", "female", "possible", chance)
    return dam, book.founder("M1", "male", "visual")


def carries(book: Book, animal: m.Animal, line: m.Line | None = None) -> float:
    """What the book itself says, as it is stored."""
    return m.Standing.objects.get(animal=animal, trait=book.trait, line=line).carries


def clutch_of(book: Book, eggs: int, rate: str) -> None:
    with writing(by=book.by, what="Changed the species") as entry:
        book.species.eggs_usual, book.species.hatch_rate = eggs, rate
        entry.keep(book.species)
    book.species.refresh_from_db()


def test_a_possible_het_with_a_visual(book: Book) -> None:
    # Each hatchling of a carrier shows it with 1/2, so 2/3 · 2⁻ⁿ of the carriers' clutches are
    # clean and all of the others': 2/3 · 2⁻ⁿ : 1/3.
    dam, sire = with_visual(book, "2/3")
    (found,) = trials(book, dam, sire)
    assert found.prior == pytest.approx(2 / 3)
    assert found.positive == pytest.approx([2 / 3 * (1 - 0.5**n) for n in range(41)])
    assert found.remains == pytest.approx([2 / (2**n + 2) for n in range(41)])
    assert found.carrier == pytest.approx([1 - 0.5**n for n in range(41)])
    assert found.proves == pytest.approx(1)
    # 127 of 128 carriers show it among seven; 2/130 is left then, 2/258 after eight.
    assert (found.sure_to_show, found.stop, found.needed) == (7, 8, 8)
    # For 95 %: 31 of 32 among five, of which 2/34 is left; 2/66 after six.
    assert found.likely == 6


def test_an_even_chance_takes_seven(book: Book) -> None:
    dam, sire = with_visual(book, "1/2")
    (found,) = trials(book, dam, sire)
    # 1/129 is left after seven, 1/65 after six.
    assert (found.sure_to_show, found.stop, found.needed) == (7, 7, 7)


def test_a_het_mate_takes_more_and_a_possible_one_never_clears_it(book: Book) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    het = book.founder("M1", "male", "carries")
    open_one = book.founder("M2", "male", "possible", "1/2")
    nothing = book.founder("M3", "male")
    by_het, by_open, by_nothing = trials(book, dam, het, open_one, nothing)
    assert by_het.remains == pytest.approx([0.75**n / (0.75**n + 1) for n in range(41)])
    # (3/4)^16 = 1/99.8, so 1/100.8 is left after sixteen; (3/4)^16 > 1/100 of carriers miss it.
    assert (by_het.stop, by_het.sure_to_show, by_het.needed) == (16, 17, 17)
    # The mate carries it by half: a clean clutch of a carrier has (1 + (3/4)^n)/2.
    clean = [(1 + 0.75**n) / 2 for n in range(41)]
    assert by_open.remains == pytest.approx([one / (one + 1) for one in clean])
    assert (by_open.stop, by_open.needed, by_open.likely) == (None, None, None)
    assert (by_nothing.bits, by_nothing.needed, by_nothing.settled) == (0, None, 0)


def test_the_chance_to_settle_it_is_over_clutches_of_all_sizes(book: Book) -> None:
    dam, sire = with_visual(book, "2/3")
    clutch_of(book, 8, "4/5")
    (found,) = trials(book, dam, sire)
    sizes = {k: comb(8, k) * 0.8**k * 0.2 ** (8 - k) for k in range(9)}
    # A visual settles it at any size; clean ones alone from eight on, which then settle the rest.
    seen = sum(p * 2 / 3 * (1 - 0.5**k) for k, p in sizes.items())
    assert found.settled == pytest.approx(seen + sizes[8] * (1 - 2 / 3 * (1 - 0.5**8)))


@pytest.mark.parametrize("count", [1, 4, 9])
def test_the_book_says_the_same_once_it_is_entered(book: Book, count: int) -> None:
    dam = book.founder("F1", "female", "possible", "2/3")
    mates = [
        book.founder("M1", "male", "visual"),
        book.founder("M2", "male", "possible", "1/2"),
        book.founder("M3", "male", "carries"),
    ]
    for place, found in enumerate(trials(book, dam, *mates)):
        clutch = book.clutch(f"C{place}", dam, mates[place], normal=count)
        assert carries(book, dam) == pytest.approx(found.remains[count], abs=1e-12)
        with writing(by=book.by, what="Withdrew it") as entry:
            for one in (*clutch.hatch_rows.all(), *clutch.candidates.all(), clutch):
                entry.withdraw(one, reason="the next mate")


def test_clean_hatchlings_of_before_count(book: Book) -> None:
    dam, sire = with_visual(book, "2/3")
    (before,) = trials(book, dam, sire)
    book.clutch("C1", dam, sire, normal=3)
    (after,) = trials(book, dam, sire)
    assert after.prior == pytest.approx(before.remains[3]) == pytest.approx(carries(book, dam))
    assert after.remains[5] == pytest.approx(before.remains[8])


def test_brother_and_sister_are_uncertain_together(book: Book) -> None:
    grandam, grandsire = (
        book.founder("F1", "female", "possible", "1/2"),
        book.founder("M1", "male", "carries"),
    )
    clutch = book.clutch("C1", grandam, grandsire)
    sister = book.young("K1", clutch, sex="female")
    brother = book.young("K2", clutch, sex="male")
    (found,) = trials(book, sister, brother)
    book.clutch("C2", sister, brother, normal=5)
    assert carries(book, sister) == pytest.approx(found.remains[5], abs=1e-12)


def test_eyes_that_err(book: Book) -> None:
    with writing(by=book.by, what="Changed the trait") as entry:
        book.trait.penetrance, book.trait.mistaken = "3/4", "1/100"
        book.trait.overlooked = "1/50"
        entry.keep(book.trait)
    book.trait.refresh_from_db()
    dam, sire = with_visual(book, "2/3")
    (found,) = trials(book, dam, sire)
    assert 0.9 < found.proves < 1
    book.clutch("C1", dam, sire, normal=4)
    assert carries(book, dam) == pytest.approx(found.remains[4], abs=1e-9)


def test_a_gene_on_a_sex_chromosome_is_told_by_any_mate(book: Book) -> None:
    with writing(by=book.by, what="Moved the locus") as entry:
        locus = m.Locus.objects.get(pk=book.line.locus_id)
        locus.chromosome = m.Chromosome.ONE
        entry.keep(locus)
    male, female = book.founder("M1", "male", "possible", "1/2"), book.founder("F1", "female")
    (found,) = trials(book, male, female)
    # Daughters, half of the young, get one of his two: each young shows it with 1/4.
    assert found.remains[4] == pytest.approx(0.75**4 / (0.75**4 + 1))
    book.clutch("C1", female, male, normal=4)
    assert carries(book, male) == pytest.approx(found.remains[4], abs=1e-12)


def test_a_gene_on_both_sex_chromosomes_with_crossovers(book: Book) -> None:
    with writing(by=book.by, what="Moved the locus") as entry:
        locus = m.Locus.objects.get(pk=book.line.locus_id)
        locus.chromosome, locus.recombination = m.Chromosome.BOTH, "1/20"
        entry.keep(locus)
    dam, sire = with_visual(book, "1/2")
    (found,) = trials(book, dam, sire)
    assert found.prior == pytest.approx(carries(book, dam))
    book.clutch("C1", dam, sire, normal=4)
    assert carries(book, dam) == pytest.approx(found.remains[4], abs=1e-12)


def test_two_genes_of_one_look_and_one_line_of_them(book: Book) -> None:
    second = LineFactory.create(
        trait=book.trait, locus=LocusFactory.create(species=book.species), code="PEL"
    )
    with writing(by=book.by, what="Added F1") as entry:
        dam = entry.keep(m.Animal(species=book.species, code="F1", sex="female"))
        entry.keep(m.Statement(animal=dam, trait=book.trait, claim="possible", chance="1/2"))
    sire = book.founder("M1", "male", "visual", line=second)
    before = carries(book, dam)
    (of_any,) = trials(book, dam, sire)
    (of_one,) = trials(book, dam, sire, line=second)
    (of_other,) = trials(book, dam, sire, line=book.line)
    assert of_any.prior == pytest.approx(before)
    book.clutch("C1", dam, sire, normal=6)
    for found, line in ((of_any, None), (of_one, second), (of_other, book.line)):
        assert carries(book, dam, line) == pytest.approx(found.remains[6], abs=1e-12)
    # The other gene is never seen with this mate: no number clears the look as a whole.
    assert of_any.stop is None and of_one.stop is not None


def test_nobody_in_the_family_can_carry_it(book: Book) -> None:
    assert trials(book, book.founder("F1", "female"), book.founder("M1", "male")) == []


def test_suspects_are_asked_about_together_as_alone(book: Book) -> None:
    dams = [book.founder(f"F{n}", "female", "possible", f"1/{n}") for n in (2, 3, 4)]
    sire = book.founder("M1", "male", "visual")
    together = inference.trials([Suspect(now(dam), book.trait, None, (sire,)) for dam in dams])
    assert [row and row[0] for row in together] == [trials(book, dam, sire)[0] for dam in dams]
