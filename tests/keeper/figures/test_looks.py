"""What hatched against what was said before: published counts, exact tests, the own record."""

import json
import re
from collections.abc import Iterator
from math import comb
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.domain.figures.chances import compare, exact_p, holm
from keeper.domain.figures.looks import foretold, looks_tested
from keeper.domain.figures.record import chances_of, own_record
from tests.factories import AccountFactory, LineFactory, TraitFactory
from tests.keeper.books import Book
from tests.keeper.figures.rows import hatched, sure_pair

if TYPE_CHECKING:
    from pytest_django import DjangoDbBlocker

pytestmark = pytest.mark.django_db
PUBLISHED = {
    one["id"]: one.get("numbers", {})
    for one in json.loads(Path("fixtures/checks/published.json").read_text())["checks"]
}
NORMAL: frozenset[int] = frozenset()


@pytest.fixture(scope="module")
def told(django_db_setup: None, django_db_blocker: "DjangoDbBlocker") -> Iterator[dict[str, Any]]:
    """Published crosses as clutches of one book, and one of parents who are only possible."""
    with django_db_blocker.unblock(), transaction.atomic():
        owner = AccountFactory.create(name="Mara", role="owner")
        book = Book(owner)
        salt = frozenset({book.trait.pk})
        seed = TraitFactory.create(species=book.species, name="Angular")
        angular = LineFactory.create(trait=seed, code="ANG", locus__species=book.species)
        yellow = TraitFactory.create(species=book.species, name="Yellow", shown="single")
        lethal = LineFactory.create(trait=yellow, code="YEL", locus__species=book.species)
        with writing(by=owner, what="Who has two never hatches") as entry:
            entry.keep(m.Survival(locus=lethal.locus, one=lethal, other=lethal, survival="0"))
        dihybrid = sure_pair(book, "1")
        with writing(by=owner, what="Both carry both") as entry:
            for animal in dihybrid:
                book.say(entry, animal, "carries", None, angular)
        yellows = (
            book.founder("F2", "female", "visual", line=lethal),
            book.founder("M2", "male", "visual", line=lethal),
        )
        f2, peas = PUBLISHED["M1.F2"]["seed_coat_flower"], PUBLISHED["M1.dihybrid"]["phenotype_F2"]
        both = salt | {seed.pk}
        hatched(book, "Mendel 3:1", sure_pair(book, "3"), {NORMAL: f2[0], salt: f2[1]})
        hatched(
            book, "Mendel 9:3:3:1", dihybrid,
            dict(zip((NORMAL, salt, frozenset({seed.pk}), both), peas.values(), strict=True)),
            traits=both,
        )  # fmt: skip
        mice = PUBLISHED["E7.yellow"]
        for name in ("Cuenot_1905", "Castle_Little_1910"):
            seen = dict(zip((frozenset({yellow.pk}), NORMAL), mice[name], strict=True))
            hatched(book, name[:6], yellows, seen, traits=frozenset({yellow.pk}))
        possible = (
            book.founder("F9", "female", "possible", "2/3"),
            book.founder("M9", "male", "possible", "2/3"),
        )
        perhaps = hatched(book, "perhaps", possible, {NORMAL: 4, salt: 4})
        yield {**locals()}
        transaction.set_rollback(True)


def test_published_counts_give_their_published_chi_squares_on_the_page(
    told: dict[str, Any], client: Client
) -> None:
    cache.clear()
    client.force_login(told["owner"])
    page = re.sub(r"\s+", " ", client.get(reverse("clutches-figures-looks")).content.decode())
    parts = page.split('aria-label="Clutch ')[1:]
    squared = {one.partition('"')[0]: re.findall(r"χ² ([\d.]+, \d df)", one) for one in parts}
    of = {name: found[0] for name, found in squared.items() if found and name != "perhaps"}
    mice, peas = PUBLISHED["E7.yellow"]["chi2_2to1"], PUBLISHED["M1.dihybrid"]["chi2_9331"]
    assert of == {
        # Third of the seven characters (the file names its order); values computed of its counts.
        "Mendel 3:1": f"{PUBLISHED['M1.F2']['chi2_3to1_each'][2]:.3f}, 1 df",
        "Mendel 9:3:3:1": f"{peas:.3f}, 3 df",
        # Quoted from memory, as the file says.
        "Cuenot": f"{mice['Cuenot']:.3f}, 1 df",
        "Castle": f"{mice['Castle_Little']:.3f}, 1 df",
    }
    assert "over all that the parents might have been" in page


def test_two_that_are_only_possible_are_tested_over_all_they_may_be(told: dict[str, Any]) -> None:
    (row,) = [one for one in looks_tested(list(foretold())) if one.clutch == told["perhaps"]]
    assert not row.certain
    # Both carry with 4/9, and then k of 8 are visual as of one in four; else none is.
    law = [
        4 / 9 * comb(8, k) * 0.25**k * 0.75 ** (8 - k) + (5 / 9 if k == 0 else 0) for k in range(9)
    ]
    p = sum(one for one in law if one <= law[4] * (1 + 1e-9))
    assert row.result.p == pytest.approx(p, rel=1e-9)
    # At the mean chance of 1/9 an egg it would have looked like a mistake.
    assert exact_p([4, 4], [(1.0, [8 / 9, 1 / 9])]) < 0.01 < p


def test_what_was_said_stays_as_it_was_said_and_goes_with_its_hatch(told: dict[str, Any]) -> None:
    book, salt = told["book"], told["salt"]
    with transaction.atomic():
        pair = (
            book.founder("F8", "female", "possible", "2/3"),
            book.founder("M8", "male", "possible", "2/3"),
        )
        clutch = hatched(book, "later", pair, {salt: 3})
        said = m.Foretold.objects.get(clutch=clutch)
        # All three are visual, so the book knows better now; what it said is as it was.
        assert next(look.chance for look in inference.clutch_looks(clutch).looks) == 0.75
        assert chances_of(said) == {book.trait.pk: pytest.approx(1 / 9)}
        undo(entry=m.DaybookEntry.objects.latest("pk"), by=told["owner"])
        assert not m.Foretold.objects.live().filter(clutch=clutch).exists()
        transaction.set_rollback(True)


def test_the_books_own_record_counts_an_animal_and_trait_once(told: dict[str, Any]) -> None:
    own = own_record(list(foretold()))
    bands = {one.low: one for one in own.bands if one.said}
    peas, mice = PUBLISHED["M1.dihybrid"]["phenotype_F2"], PUBLISHED["E7.yellow"]
    f2 = PUBLISHED["M1.F2"]["seed_coat_flower"]
    # A quarter: Mendel's recessive, and both recessives of his two.
    wrinkled = peas["wrinkled_yellow"] + peas["wrinkled_green"]
    green = peas["round_green"] + peas["wrinkled_green"]
    assert (bands[20].said, bands[20].came) == (
        sum(f2) + 2 * sum(peas.values()),
        f2[1] + wrinkled + green,
    )
    assert bands[20].expected == pytest.approx(bands[20].said / 4)
    yellow = [mice[name] for name in ("Cuenot_1905", "Castle_Little_1910")]
    assert (bands[60].said, bands[60].came) == (
        sum(map(sum, yellow)),
        sum(one[0] for one in yellow),
    )
    assert (bands[10].said, bands[10].came, bands[10].clutches) == (8, 4, 1)
    assert sorted(bands) == [10, 20, 60]
    assert (own.certain, own.impossible) == (0, 0)
    with transaction.atomic():
        book, none = (
            told["book"],
            [told["book"].founder(f"{sex}6", sex) for sex in ("female", "male")],
        )
        hatched(book, "never", (none[0], none[1]), {told["salt"]: 2, NORMAL: 3})
        never = own_record(list(foretold()))
        transaction.set_rollback(True)
    # What nobody foresaw is no trial of any band, and is told all the same.
    assert (never.said, never.impossible) == (own.said, 2)


def test_a_clutch_that_hatched_before_is_said_to_be_in_no_figure(
    told: dict[str, Any], client: Client
) -> None:
    cache.clear()
    client.force_login(told["owner"])
    with transaction.atomic():
        told["book"].clutch("old", *sure_pair(told["book"], "7"), normal=4)
        m.Clutch.objects.filter(code="old").update(hatched_on="2020-01-01")
        page = client.get(reverse("clutches-figures-record")).content.decode()
        transaction.set_rollback(True)
    assert "1 clutch hatched before the book kept what it said" in page


def test_holm_and_the_exact_test_agree_with_their_definitions() -> None:
    # Worked by hand: 3 × 0.01, 2 × 0.03, and no later one below an earlier.
    assert holm([0.01, None, 0.04, 0.03]) == [0.03, None, 0.06, 0.06]
    from scipy.stats import binomtest

    for seen in range(17):
        assert exact_p([seen, 16 - seen], [(1.0, [0.25, 0.75])]) == pytest.approx(
            binomtest(seen, 16, 0.25).pvalue
        )
    # Nine looks of thirty are too many outcomes: the rarest are taken together, by what was
    # expected and not by what came.
    chances = [27 / 64, 9 / 64, 9 / 64, 9 / 64, 3 / 64, 3 / 64, 3 / 64, 1 / 64]
    found = compare([12, 5, 4, 4, 2, 1, 1, 1], [(1.0, chances)])
    assert found.chi_squared is None
    assert found.together > 1
    assert 0 < (found.p or 0) <= 1
