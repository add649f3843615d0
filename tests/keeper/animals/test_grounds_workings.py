"""Workings give the very number of the standing, or say why there are none."""

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from keeper import models as m
from keeper.domain import inference
from tests.factories import ContactFactory, LineFactory, LocusFactory, TraitFactory
from tests.keeper.animals.test_grounds_weighing import keep, laboratory_test
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db

Asked = tuple[m.Animal, m.Trait, m.Line | None]


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def pair(book: Book, dam: str | None, sire: str | None) -> m.Clutch:
    """A clutch of a possible carrier (a figure), a visual or a normal animal on either side."""
    parents = []
    for code, sex, said in (("F1", "female", dam), ("M1", "male", sire)):
        claim = "" if said is None else "visual" if said == "visual" else "possible"
        parents.append(book.founder(code, sex, claim, said if claim == "possible" else None))
    return book.clutch("C1", *parents)


def linked(book: Book) -> m.Line:
    """A line on the X alone."""
    locus = LocusFactory.create(species=book.species, chromosome="one")
    trait = TraitFactory.create(species=book.species, name="Gale")
    line: m.Line = LineFactory.create(trait=trait, locus=locus, code="DUN")
    return line


def by_papers_half_taken(book: Book) -> Asked:
    one = book.founder("F1", "female")
    source = ContactFactory.create(reliability="9/10")
    said = m.Statement(animal=one, trait=book.trait, line=book.line, claim="possible", chance="2/3")
    said.source = source
    keep(book, said)
    return one, book.trait, None


def by_papers_of_one_line_of_two(book: Book) -> Asked:
    other = LineFactory.create(trait=book.trait, code="PEL")
    one = book.founder("F1", "female")
    keep(book, m.Statement(animal=one, trait=book.trait, claim="possible", chance="2/3"))
    return one, book.trait, other


def of_two_possible_carriers(book: Book) -> Asked:
    return book.young("K1", pair(book, "2/3", "2/3")), book.trait, None


def of_a_carrier_never_looked_at(book: Book) -> Asked:
    return book.young("K1", pair(book, "1", "1"), seen=None), book.trait, None


def of_one_possible_carrier(book: Book) -> Asked:
    return book.young("K1", pair(book, "2/3", None)), book.trait, book.line


def of_a_visual_and_a_possible_carrier(book: Book) -> Asked:
    return book.young("K1", pair(book, "visual", "1/2"), seen=None, sex="male"), book.trait, None


def with_clean_young_of_a_carrier(book: Book) -> Asked:
    dam = book.founder("F1", "female", "possible", "2/3")
    book.clutch("C1", dam, book.founder("M1", "male", "carries"), normal=7)
    return dam, book.trait, None


def with_clean_young_of_two_mates(book: Book) -> Asked:
    dam = book.founder("F1", "female", "possible", "2/3")
    visual = book.clutch("C1", dam, book.founder("M1", "male", "visual"), normal=2)
    book.young("K1", visual)
    book.clutch("C2", dam, book.founder("M2", "male", "carries"), normal=2)
    book.clutch("C3", dam, book.founder("M3", "male"), normal=9)
    return dam, book.trait, None


def sib_with_clean_young_of_a_possible_carrier(book: Book) -> Asked:
    one = book.young("K1", pair(book, "1", "1"), sex="male")
    book.clutch("C2", book.founder("F2", "female", "possible", "1/2"), one, normal=2)
    return one, book.trait, None


def with_one_line_tested(book: Book) -> m.Animal:
    """Papers of 2/3 leave open which of two genes it is; four clean young test one of them."""
    LineFactory.create(trait=book.trait, code="PEL")
    one = book.founder("F1", "female")
    keep(book, m.Statement(animal=one, trait=book.trait, claim="possible", chance="2/3"))
    book.clutch("C1", one, book.founder("M1", "male", "visual"), normal=4)
    return one


def of_which_line_is_open(book: Book) -> Asked:
    return with_one_line_tested(book), book.trait, None


def of_the_line_that_was_tested(book: Book) -> Asked:
    return with_one_line_tested(book), book.trait, book.line


def of_the_line_that_was_not_tested(book: Book) -> Asked:
    one = with_one_line_tested(book)
    return one, book.trait, m.Line.objects.get(code="PEL")


def visual_of_either_gene(book: Book) -> Asked:
    """Both parents carry two genes of one look."""
    other = LineFactory.create(trait=book.trait, code="PEL")
    visuals = [
        (
            book.founder(f"F{n}", "female", "visual"),
            book.founder(f"M{n}", "male", "visual", line=other),
        )
        for n in (1, 2)
    ]
    dam, sire = (
        book.young(f"K{sex[0]}", book.clutch(f"C{sex[0]}", *pair), sex=sex)
        for pair, sex in zip(visuals, ("female", "male"), strict=True)
    )
    return book.young("K1", book.clutch("C3", dam, sire), seen=True), book.trait, book.line


def clean_by_a_laboratory(book: Book) -> Asked:
    one = book.founder("F1", "female", "possible", "2/3")
    laboratory_test(book, one, "none", misses="1/10")
    return one, book.trait, None


def found_by_a_laboratory(book: Book) -> Asked:
    one = book.founder("F1", "female", "possible", "1/2")
    laboratory_test(book, one, "one", misses="1/10", mistakes="1/50")
    return one, book.trait, None


def visual_of_a_dominant(book: Book) -> Asked:
    spur = TraitFactory.create(species=book.species, name="Spur", shown="dominant")
    line = LineFactory.create(trait=spur, code="SP")
    dam = book.founder("F1", "female", "carries", line=line)
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "carries", line=line))
    one = book.young("K1", clutch, seen=None)
    keep(book, m.Observation(animal=one, trait=spur, seen="yes", on=date(2026, 5, 1), by=book.by))
    return one, spur, None


def not_seen_where_not_all_show(book: Book) -> Asked:
    spur = TraitFactory.create(
        species=book.species, name="Spur", shown="dominant", penetrance="4/5"
    )
    line = LineFactory.create(trait=spur, code="SP")
    spur.refresh_from_db()
    dam = book.founder("F1", "female", "carries", line=line)
    one = book.young("K1", book.clutch("C1", dam, book.founder("M1", "male")), seen=None)
    keep(book, m.Observation(animal=one, trait=spur, seen="no", on=date(2026, 5, 1), by=book.by))
    return one, spur, None


def dam_of_clean_sons(book: Book) -> Asked:
    gale = linked(book)
    dam = book.founder("F1", "female", "possible", "1/2", gale)
    clutch = book.clutch("C1", dam, book.founder("M1", "male"))
    row = keep(book, m.HatchRow(clutch=clutch, count=3, sex="male"))
    keep(book, m.RowSighting(row=row, trait=gale.trait, seen=False))
    return dam, gale.trait, None


def daughter_of_a_linked_carrier(book: Book) -> Asked:
    gale = linked(book)
    dam = book.founder("F1", "female", "carries", line=gale)
    one = book.young("K1", book.clutch("C1", dam, book.founder("M1", "male")), None, "female")
    looked = m.Observation(animal=one, trait=gale.trait, seen="no", on=date(2026, 5, 1), by=book.by)
    keep(book, looked)
    return one, gale.trait, gale


def son_of_a_possible_linked_carrier(book: Book) -> Asked:
    gale = linked(book)
    dam = book.founder("F1", "female", "possible", "2/3", gale)
    one = book.young("K1", book.clutch("C1", dam, book.founder("M1", "male")), None, "male")
    return one, gale.trait, None


@pytest.mark.parametrize(
    ("build", "result"),
    [
        # 2/3 · 9/10, and of any other animal two draws at 1 in 100
        (by_papers_half_taken, "60199/100000"),
        (by_papers_of_one_line_of_two, "1/3"),  # 2/3 · 1/2
        (of_two_possible_carriers, "1/2"),  # g = h = 1/3: (4/9) / (8/9)
        (of_a_carrier_never_looked_at, "3/4"),
        (of_one_possible_carrier, "1/3"),
        (of_a_visual_and_a_possible_carrier, "1/4"),  # of two copies: 1 · 1/4
        (with_clean_young_of_a_carrier, "2187/10379"),  # 2 · 3⁷ to 4⁷
        (with_clean_young_of_two_mates, "9/73"),  # 2 · (1/2)³ · (3/4)² to 1
        (sib_with_clean_young_of_a_possible_carrier, "25/41"),  # 2 · (1/2 · 9/16 + 1/2) to 1
        (visual_of_either_gene, "6/7"),  # (1/4 + 1/2 · 1/4) of 7/16
        (of_which_line_is_open, "17/33"),  # 1/3 each; (1/16 + 1) to (1/16 + 1 + 1)
        (of_the_line_that_was_tested, "1/33"),
        (of_the_line_that_was_not_tested, "16/33"),
        (clean_by_a_laboratory, "1/6"),  # 2 · 1/10 to 1
        (found_by_a_laboratory, "45/46"),  # 9/10 to 1/50
        (visual_of_a_dominant, "1/3"),  # 1/4 of 3/4 has two copies
        (not_seen_where_not_all_show, "1/6"),  # 1/2 · 1/5 to 1/2
        (dam_of_clean_sons, "1/9"),  # (1/2)³ to 1
        (daughter_of_a_linked_carrier, "1/2"),
        (son_of_a_possible_linked_carrier, "1/3"),
    ],
)
def test_working_gives_the_number(book: Book, build: Callable[[Book], Asked], result: str) -> None:
    animal, trait, line = build(book)
    standing = m.Standing.objects.get(animal=animal, trait=trait, line=line)
    found = inference.grounds(animal, trait, line)
    figures = [step for step in found.working if step.plain[:1] == "P"]
    assert figures[-1].plain.endswith(f"= {result}")
    shown = standing.carries if standing.none else standing.two
    assert shown == pytest.approx(float(Fraction(result)), abs=1e-9)
    assert found.no_working == ""
    assert all(step.mathml.startswith("<math") for step in found.working if step.plain)


def test_working_says_that_it_takes_seventeen_not_sixteen(book: Book) -> None:
    # 1 − (3/4)¹⁶ = 98.998 %: Mendel's segregation law. At most 1 % of 2/3 is left after 19.
    dam = book.founder("F1", "female", "possible", "2/3")
    book.clutch("C1", dam, book.founder("M1", "male", "carries"), normal=16)
    said = [step.text for step in inference.grounds(dam, book.trait).working]
    assert said[-1] == (
        "With a carrier a carrier shows itself among 17 young with 99 %; among 16 with 98 %. "
        "For at most 1 % to be left it takes 19 clean young."
    )


def with_two_sires(book: Book) -> Asked:
    dam = book.founder("F1", "female", "carries")
    sires = book.founder("M1", "male", "carries"), book.founder("M2", "male")
    return book.young("K1", book.clutch("C1", dam, *sires)), book.trait, None


def with_a_brother_that_shows(book: Book) -> Asked:
    # The brother makes carriers of both parents: 2/3, and that by more than the papers.
    clutch = pair(book, "1/2", "1/2")
    one = book.young("K1", clutch, sex="male")
    mate = book.young("K2", clutch, sex="female")
    book.clutch("C2", mate, one, normal=3)
    return one, book.trait, None


def with_an_open_pair(book: Book) -> Asked:
    other = LineFactory.create(trait=book.trait, code="PEL")
    keep(book, m.OpenPair(one=book.line, other=other, prior="1/2"))
    dam = book.founder("F1", "female", "possible", "2/3")
    book.clutch("C1", dam, book.founder("M1", "male", "visual", line=other), normal=3)
    return dam, book.trait, None


def seen_and_nothing_said(book: Book) -> Asked:
    spur = TraitFactory.create(species=book.species, name="Spur", shown="dominant")
    LineFactory.create(trait=spur, code="SP")
    one = book.founder("F1", "female")
    keep(book, m.Observation(animal=one, trait=spur, seen="yes", on=date(2026, 5, 1), by=book.by))
    return one, spur, None


@pytest.mark.parametrize(
    ("build", "begins"),
    [
        (with_two_sires, "More than one male may be its sire"),
        (with_a_brother_that_shows, "More than its parents, papers, tests and clean young"),
        (with_an_open_pair, "Whether some of its lines are one gene is open"),
        (seen_and_nothing_said, "It rests on what was seen on it or found in it"),
    ],
)
def test_no_working_says_why(book: Book, build: Callable[[Book], Asked], begins: str) -> None:
    found = inference.grounds(*build(book))
    assert found.working == ()
    assert found.no_working[: len(begins)] == begins


def test_no_working_of_what_is_certain(book: Book) -> None:
    visual = book.founder("M1", "male", "visual")
    one = book.young("K1", book.clutch("C1", book.founder("F1", "female"), visual))
    said = "It carries it for certain: nothing is left to work out."
    assert [inference.grounds(a, book.trait).no_working for a in (visual, one)] == [said, said]


def test_working_of_nothing_known_is_silent(book: Book) -> None:
    found: Any = inference.grounds(book.founder("F1", "female"), book.trait)
    assert (found.grounds, found.working, found.no_working) == ((), (), "")
