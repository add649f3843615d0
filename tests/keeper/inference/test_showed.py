"""“0 of 6 showed it” counts those that could have shown it and of whom it could be told."""

from collections.abc import Collection

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db

NOT_HIDDEN, HIDDEN = 11, 5


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


@pytest.fixture
def white(book: Book) -> m.Line:
    """A dominant trait on which nothing else can be seen."""
    trait = TraitFactory.create(
        species=book.species, name="White", shown=m.Shown.DOMINANT, hides_all=True
    )
    return LineFactory.create(trait=trait, code="WH")


def hatch(
    book: Book,
    clutch: m.Clutch,
    count: int,
    *,
    seen: Collection[m.Trait] = (),
    unseen: Collection[m.Trait] = (),
    whole: bool = False,
) -> None:
    with writing(by=book.by, what=f"Hatched {count}") as entry:
        row = entry.keep(m.HatchRow(clutch=clutch, count=count, whole=whole))
        for trait in (*seen, *unseen):
            entry.keep(m.RowSighting(row=row, trait=trait, seen=trait in seen))


@pytest.fixture
def masked(book: Book, white: m.Line) -> m.Clutch:
    """Of a possible het and a visual, eleven plain and five white."""
    dam = book.founder("F1", "female", "possible", "9/10")
    with writing(by=book.by, what="Said") as entry:
        book.say(entry, dam, "carries", None, white)
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "visual"))
    hatch(book, clutch, NOT_HIDDEN, unseen=[book.trait, white.trait])
    hatch(book, clutch, HIDDEN, seen=[white.trait], unseen=[book.trait])
    return clutch


def test_clutch_page_leaves_out_those_on_which_it_is_hidden(
    book: Book, white: m.Line, masked: m.Clutch, owner_client: Client
) -> None:
    assert inference.hatch_counts(masked) == {book.trait.pk: (0, 11), white.trait_id: (5, 16)}
    page = owner_client.get(reverse("clutches-one", args=[masked.pk])).content.decode()
    assert "<strong>0 of 11</strong> showed Saltgrass" in page
    assert "<strong>5 of 16</strong> showed White" in page


def test_grounds_and_the_clean_count_leave_them_out_too(book: Book, masked: m.Clutch) -> None:
    assert masked.dam is not None
    found = inference.grounds(masked.dam, book.trait)
    assert "clutch C1: 0 of 11 showed Saltgrass" in {one.text for one in found.grounds}
    standing = m.Standing.objects.get(animal=masked.dam, trait=book.trait, line=None)
    assert standing.clean_young == 11


def test_surprise_counts_those_that_could_have_shown_it(book: Book, white: m.Line) -> None:
    dam = book.founder("F1", "female", "carries")
    with writing(by=book.by, what="Said") as entry:
        book.say(entry, dam, "carries", None, white)
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "visual"))
    with writing(by=book.by, what="Hatched") as entry:
        for count, seen in ((NOT_HIDDEN, False), (HIDDEN, True)):
            row = entry.keep(m.HatchRow(clutch=clutch, count=count))
            entry.keep(m.RowSighting(row=row, trait=white.trait, seen=seen))
            entry.keep(m.RowSighting(row=row, trait=book.trait, seen=False))
    one = m.Surprise.objects.get(trait=book.trait)
    assert one.text == "Clutch C1: 0 of 11 showed Saltgrass"
    # None of eleven at one in two each, or all of them: rarer than 1 in 500 for each of two traits.
    assert one.chance == pytest.approx(2 / 2**11)


def test_working_of_a_number_counts_the_young_that_could_have_shown_it(
    book: Book, white: m.Line
) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    with writing(by=book.by, what="Said") as entry:
        book.say(entry, dam, "carries", None, white)
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "visual"))
    hatch(book, clutch, 2, unseen=[book.trait, white.trait])
    hatch(book, clutch, 3, seen=[white.trait], unseen=[book.trait])
    found = inference.grounds(dam, book.trait)
    assert any("2 young with M1, all of them without" in one.text for one in found.working)


def test_crosses_of_two_lines_count_the_same(book: Book, white: m.Line) -> None:
    other = LineFactory.create(trait=book.trait, code="PEL")
    with writing(by=book.by, what="Open") as entry:
        one, two = sorted((book.line, other), key=lambda line: line.pk)
        entry.keep(m.OpenPair(one=one, other=two))
    dam = book.founder("F1", "female", "visual")
    with writing(by=book.by, what="Said") as entry:
        book.say(entry, dam, "carries", None, white)
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "carries", line=other))
    hatch(book, clutch, 4, unseen=[book.trait])
    hatch(book, clutch, 3, seen=[white.trait], unseen=[book.trait])
    (cross,) = inference.pair_evidence(book.line, other).crosses
    assert (cross.showed, cross.looked) == (0, 4)


def test_those_too_young_to_tell_are_not_counted(
    book: Book, white: m.Line, owner_client: Client
) -> None:
    book.trait.told_from = 30
    with writing(by=book.by, what="Told later") as entry:
        entry.keep(book.trait)
    dam = book.founder("F1", "female", "possible", "1/2")
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "visual"))
    hatch(book, clutch, 6, whole=True)
    assert inference.hatch_counts(clutch) == {white.trait_id: (0, 6)}
    page = owner_client.get(reverse("clutches-one", args=[clutch.pk])).content.decode()
    assert "showed Saltgrass" not in page


def test_whole_look_that_names_nothing_is_counted_for_what_the_parents_may_have(
    book: Book, owner_client: Client
) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "visual"))
    hatch(book, clutch, 6, whole=True)
    page = owner_client.get(reverse("clutches-one", args=[clutch.pk])).content.decode()
    assert "<strong>0 of 6</strong> showed Saltgrass" in page


def test_double_form_shows_its_trait(book: Book) -> None:
    dune = TraitFactory.create(species=book.species, name="Dune", shown=m.Shown.SINGLE)
    line = LineFactory.create(trait=dune, code="DUN")
    double = TraitFactory.create(
        species=book.species, name="Super Dune", shown=m.Shown.EVERY, base=dune
    )
    dam = book.founder("F1", "female", "carries", line=line)
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "carries", line=line))
    hatch(book, clutch, 2, seen=[double], whole=True)
    hatch(book, clutch, 3, seen=[dune], whole=True)
    hatch(book, clutch, 1, whole=True)
    counts = inference.hatch_counts(clutch)
    assert (counts[dune.pk], counts[double.pk]) == ((5, 6), (2, 6))
