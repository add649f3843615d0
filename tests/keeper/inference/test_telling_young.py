"""How telling clean young are: as many young of a visual mate, whatever their number is."""

from math import log2

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.saying.figures import even_chances
from keeper.domain.saying.wording import telling_said
from keeper.domain.sheets.writes import draft
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book
from tests.keeper.inference.test_showed import hatch

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def told(book: Book, animal: m.Animal) -> list[float]:
    """The clean young that are counted, and how telling they are."""
    standing = m.Standing.objects.get(animal=animal, trait=book.trait, line=None)
    bits = inference.how_telling(animal, book.trait)
    assert bits is not None
    return [standing.clean_young, bits]


def test_each_young_of_a_visual_mate_is_an_even_chance(book: Book) -> None:
    dam = book.founder("F1", "female", "possible", "2/3")
    book.clutch("C1", dam, book.founder("M1", "male", "visual"), normal=5)
    assert told(book, dam) == pytest.approx([5, 5])


def test_young_of_a_possible_het_tell_next_to_nothing(book: Book) -> None:
    # By hand: of a carrier's young all 12 are clean with .99 + .01 × .75¹²; of others, always.
    dam = book.founder("F1", "female", "possible", "1/2")
    book.clutch("C1", dam, book.founder("M1", "male", "possible", "1/100"), normal=12)
    bits = -log2(0.99 + 0.01 * 0.75**12)
    assert told(book, dam) == pytest.approx([12, bits])
    assert telling_said(bits, "recessive") == "as telling as under 0.1 of a visual mate"


def test_masked_young_tell_nothing(book: Book) -> None:
    trait = TraitFactory.create(
        species=book.species, name="White", shown=m.Shown.DOMINANT, hides_all=True
    )
    white = LineFactory.create(trait=trait, code="WH")
    dam = book.founder("F1", "female", "possible", "1/2")
    with writing(by=book.by, what="Said") as entry:
        book.say(entry, dam, "carries", None, white)
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "visual"))
    hatch(book, clutch, 7, seen=[trait], unseen=[book.trait])
    hatch(book, clutch, 1, unseen=[book.trait, trait])
    assert told(book, dam) == pytest.approx([1, 1])


def test_two_visual_candidate_sires_test_the_dam_alike(book: Book) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    sires = [book.founder(code, "male", "visual") for code in ("M1", "M2")]
    book.clutch("C1", dam, *sires, normal=6)
    assert told(book, dam) == pytest.approx([6, 6])


def test_young_of_a_normal_mate_test_a_dominant(book: Book) -> None:
    dune = TraitFactory.create(species=book.species, name="Dune", shown=m.Shown.DOMINANT)
    line = LineFactory.create(trait=dune, code="DUN")
    dune.penetrance = "1/2"
    with writing(by=book.by, what="Hardly seen") as entry:
        entry.keep(dune)
    dam = book.founder("F1", "female", "possible", "1/2", line=line)
    clutch = book.clutch("C1", dam, book.founder("M1", "male"))
    hatch(book, clutch, 4, unseen=[dune])
    # Of a carrier's young a quarter shows it.
    assert inference.how_telling(dam, dune) == pytest.approx(4 * log2(4 / 3))
    assert telling_said(4 * log2(4 / 3), dune.shown) == "as telling as 1.6 of a mate without it"


def test_recorded_young_count_as_those_without_a_record(book: Book) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    clutch = book.clutch("C1", dam, book.founder("M1", "male", "visual"), normal=2)
    book.young("K1", clutch)
    assert told(book, dam) == pytest.approx([3, 3])


def test_nothing_is_told_of_what_has_no_clean_young(book: Book) -> None:
    assert inference.how_telling(book.founder("F1", "female", "possible", "1/2"), book.trait) == 0
    assert inference.how_telling(book.founder("F2", "female"), book.trait) is None


def test_page_and_sheet_say_it_beside_the_count(book: Book, owner_client: Client) -> None:
    dam = book.founder("F1", "female", "possible", "1/2")
    book.clutch("C1", dam, book.founder("M1", "male", "possible", "1/2"), normal=12)
    bits = -log2(0.5 + 0.5 * 0.75**12)
    words = f"as telling as {even_chances(bits)} of a visual mate"
    address = reverse("animals-grounds", args=[dam.pk, book.trait.pk], query={"by": "telling"})
    page = owner_client.get(reverse("animals-one", args=[dam.pk])).content.decode()
    assert f'hx-get="{reverse("animals-grounds", args=[dam.pk, book.trait.pk])}' in page
    assert "by=telling" in page
    part = owner_client.get(address, headers={"hx-request": "true"}).content.decode()
    assert part.split() == f"({words})".split()
    assert words in owner_client.get(address).content.decode()
    dam = m.Animal.objects.get(pk=dam.pk)
    (claim,) = draft(dam, by=book.by)["claims"]
    assert claim["words"] == f"tested clean so far: 12 hatchlings, {words}, 35 % left"


@pytest.mark.parametrize(
    ("bits", "figure"),
    [
        (0.05, "under 0.1"),
        (0.1, "0.1"),
        (1.0, "1"),
        (2.999, "2.9"),
        (3.0, "3"),
        (11.99, "11"),
        (12 - 1e-12, "12"),
    ],
)
def test_figure_is_rounded_down(bits: float, figure: str) -> None:
    assert even_chances(bits) == figure
