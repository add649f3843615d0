"""Published values through the app's own path: logged as clutches, read off the animal's page.

Sources stand beside each check in `fixtures/checks/published.json`.
"""

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.saying.figures import percent, percent_up
from tests.factories import LineFactory, LocusFactory, TraitFactory
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db

_FILE = Path(__file__).parents[3] / "fixtures" / "checks" / "published.json"
_CHECKS = {one["id"]: one for one in json.loads(_FILE.read_text(encoding="utf-8"))["checks"]}


def published(name: str) -> Any:
    return _CHECKS[name]["numbers"]


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


def carries(animal: m.Animal, line: m.Line) -> float:
    return 1 - m.Standing.objects.get(animal=animal, line=line).none


@pytest.mark.parametrize("column", ["mate_Aa", "mate_aa"])
def test_clean_offspring_of_a_two_thirds_carrier(
    book: Book, owner_client: Client, column: str
) -> None:
    # M1.update, derived from Mendel's law of segregation.
    numbers = published("M1.update")
    sire = book.founder("M1", "male", "carries" if column == "mate_Aa" else "visual")
    for n, expected in zip(numbers["n"], numbers[column], strict=True):
        dam = book.founder(f"F{n}", "female", "possible", "2/3")
        if n:
            book.clutch(f"C{n}", dam, sire, normal=n)
        assert carries(dam, book.line) == pytest.approx(expected, abs=1e-9)
        page = owner_client.get(f"/animals/{dam.pk}/").content.decode()
        # What is left after clean young is rounded up.
        assert (percent_up if n else percent)(expected) in page


def test_seventeen_clean_young_of_a_carrier_mate_and_not_sixteen(book: Book) -> None:
    # T8.table: the chance to see none from a carrier passes below 1 % at 17.
    least = published("T8.table")["mate_Aa"]["99"]
    assert least == 17
    project = m.Project.objects.create(species=book.species, name="Test")
    m.GoalPart.objects.create(project=project, trait=book.trait)
    dam, sire = book.founder("F1", "female", "carries"), book.founder("M1", "male", "carries")
    found = inference.pair_goal(project, dam, sire, eggs=(16, 17))
    assert found.at_least_one[16] < 0.99 <= found.at_least_one[17]
    # Text books print 16; both figures as published.
    detect = published("T8.table")["P_detect"]
    assert found.at_least_one[16] == pytest.approx(detect["Aa_16"], abs=1e-6)
    assert found.at_least_one[17] == pytest.approx(detect["Aa_17"], abs=1e-6)


def test_daughter_of_a_carrier_with_three_clean_sons(book: Book) -> None:
    # B2.kennedy: X-linked, prior 1/2, three sons without it: 1/9.
    locus = LocusFactory.create(species=book.species, chromosome="one")
    gale = LineFactory.create(
        trait__species=book.species, trait__name="Gale", locus=locus, code="DUN"
    )
    dam = book.founder("F1", "female", "possible", "1/2", gale)
    with writing(by=book.by, what="Hatched") as entry:
        clutch = entry.keep(m.Clutch(species=book.species, code="C1", dam=dam))
        entry.keep(m.CandidateSire(clutch=clutch, sire=book.founder("M1", "male")))
        row = entry.keep(m.HatchRow(clutch=clutch, count=3, sex="male"))
        entry.keep(m.RowSighting(row=row, trait=gale.trait, seen=False))
    assert carries(dam, gale) == pytest.approx(
        float(Fraction(*published("B2.kennedy")["posterior"]))
    )


def test_one_in_sixteen_of_two_unlinked_recessives(book: Book) -> None:
    # R4.cornsnake: double homozygotes of an F2.
    other = LineFactory.create(trait__species=book.species, trait__name="Marrow", code="MA")
    pair = []
    for code, sex in (("F1", "female"), ("M1", "male")):
        one = book.founder(code, sex, "carries")
        with writing(by=book.by, what="Said") as entry:
            book.say(entry, one, "carries", None, other)
        pair.append(one)
    looks = {frozenset(look.traits): look.chance for look in inference.pairing(*pair).looks}
    both = frozenset({book.trait.pk, other.trait.pk})
    expected = Fraction(*published("R4.cornsnake")["double_homozygote_fraction_F2"])
    assert looks[both] == pytest.approx(float(expected))


def test_barred_hen_and_black_cock_give_barred_sons_and_black_daughters(owner: m.Account) -> None:
    # E7.barred: ZW, both generations.
    book = Book(owner, sex_determination="ZW")
    barred = TraitFactory.create(species=book.species, name="Barred", shown="dominant")
    locus = LocusFactory.create(species=book.species, chromosome="one")
    line = LineFactory.create(trait=barred, locus=locus, code="BA")
    hen, cock = book.founder("F1", "female", "carries", line=line), book.founder("M1", "male")
    clutch = book.clutch("C1", hen, cock)
    son = book.young("K1", clutch, seen=None, sex="male")
    daughter = book.young("K2", clutch, seen=None, sex="female")
    assert carries(son, line) == 1
    assert not m.Standing.objects.filter(animal=daughter, line=line).exists()
    # Half of the F2 is barred, in each sex: the four classes are equal.
    looks = {look.traits: look.chance for look in inference.pairing(daughter, son).looks}
    assert looks == {(): pytest.approx(0.5), (barred.pk,): pytest.approx(0.5)}
