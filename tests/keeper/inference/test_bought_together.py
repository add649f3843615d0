"""Words of one source on one trait of animals of one purchase: all of them hold, or none."""

from collections.abc import Callable
from datetime import date
from fractions import Fraction

import pytest
from django.test import Client

from genetics import solving, subproblems
from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference.reading.founders import ABOUT
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db

DAY = date(2025, 9, 14)
TRUST = Fraction(4, 5)
# By hand: an animal of which nothing is said has one copy, or two, at 1 in 100.
ONE, TWO = 2 * ABOUT * (1 - ABOUT), ABOUT**2
UNSAID = ONE + TWO


class Market:
    """A book, a source that is trusted in four of five, and what it sold."""

    def __init__(self, by: m.Account) -> None:
        self.book = Book(by)
        with writing(by=by, what="Added Otto") as entry:
            self.otto = entry.keep(m.Contact(name="Otto", reliability=str(TRUST)))

    def buy(
        self, code: str, claim: str = "carries", on: date | None = DAY, sex: str = "female"
    ) -> m.Animal:
        with writing(by=self.book.by, what=f"Bought {code}") as entry:
            animal = m.Animal(species=self.book.species, code=code, sex=sex)
            animal.source, animal.acquired_on = self.otto, on
            entry.keep(animal)
            entry.keep(
                m.Statement(
                    animal=animal, trait=self.book.trait, line=self.book.line, claim=claim,
                    source=self.otto,
                )
            )  # fmt: skip
        return animal

    def look(self, animal: m.Animal, *, seen: bool) -> None:
        with writing(by=self.book.by, what=f"Looked at {animal}") as entry:
            self.book.look(entry, animal, seen=seen)

    def bred(self, dam: m.Animal, normal: int) -> None:
        """So many normal young of a visual mate."""
        mate = self.book.founder(f"M-{dam.code}", "male", "visual")
        self.book.clutch(f"C-{dam.code}", dam, mate, normal=normal)


@pytest.fixture
def market(owner: m.Account) -> Market:
    return Market(owner)


def carries(animal: m.Animal) -> float:
    return 1 - m.Standing.objects.get(animal=animal, line=None).none


def by_hand(trust: Fraction, word: Fraction = Fraction(1)) -> float:
    """What carries: as said where the words hold, else as anybody."""
    return float(trust * word + (1 - trust) * UNSAID)


def test_a_word_that_proves_wrong_leaves_the_other_nothing_but_what_anybody_has(
    market: Market,
) -> None:
    """Both sold as visuals; one, looked at, shows nothing: 4/5 · 0 against 1/5 · 0.9999."""
    one, other = market.buy("A1", "visual"), market.buy("A2", "visual")
    assert carries(other) == pytest.approx(by_hand(TRUST))
    market.look(one, seen=False)
    assert carries(other) == pytest.approx(by_hand(Fraction(0)))
    assert inference.differences() == []


def test_doubt_of_one_is_doubt_of_the_other_by_the_formula(market: Market) -> None:
    """Hets both; one leaves three normal young with a visual, at 1/8 if it carries one copy.

    Where the words hold: 1/8. Where not: none 0.9801, one copy 0.0198 · 1/8, two copies never.
    """
    one, other = market.buy("A1"), market.buy("A2")
    market.bred(one, 3)
    holds = TRUST * Fraction(1, 8)
    fails = (1 - TRUST) * (1 - UNSAID + ONE * Fraction(1, 8))
    assert carries(other) == pytest.approx(by_hand(holds / (holds + fails)))
    assert inference.differences() == []


def test_a_word_that_proves_right_vouches_for_the_other(market: Market) -> None:
    """A visual young of a visual mate: where the words hold 1/2, else 0.0198 · 1/2 + 0.0001."""
    one, other = market.buy("A1"), market.buy("A2")
    mate = market.book.founder("M1", "male", "visual")
    market.book.clutch("C1", one, mate, visual=1)
    holds, fails = TRUST / 2, (1 - TRUST) * (ONE / 2 + TWO)
    assert carries(other) == pytest.approx(by_hand(holds / (holds + fails)))
    assert inference.differences() == []


@pytest.mark.parametrize(
    "apart",
    [
        lambda other, market: setattr(other, "acquired_on", date(2025, 9, 15)),
        lambda other, market: setattr(other, "acquired_on", None),
        lambda other, market: setattr(other, "source", None),
    ],
)
def test_what_came_on_another_day_or_from_nobody_known_stands_by_itself(
    market: Market, apart: Callable[[m.Animal, Market], None]
) -> None:
    """Correcting the day moves the other as well, there and back."""
    one, other = market.buy("A1", "visual"), market.buy("A2", "visual")
    market.look(one, seen=False)
    apart(other, market)
    with writing(by=market.book.by, what="Came on another day") as entry:
        entry.keep(other)
    assert carries(other) == pytest.approx(by_hand(TRUST))
    other.source, other.acquired_on = market.otto, DAY
    with writing(by=market.book.by, what="That day after all") as entry:
        entry.keep(other)
    assert carries(other) == pytest.approx(by_hand(Fraction(0)))
    assert inference.differences() == []


def test_word_withdrawn_of_one_frees_the_other(market: Market) -> None:
    one, other = market.buy("A1", "visual"), market.buy("A2", "visual")
    market.look(one, seen=False)
    with writing(by=market.book.by, what="Not said") as entry:
        entry.withdraw(one.statements.get(), reason="never said")
    assert carries(other) == pytest.approx(by_hand(TRUST))
    assert inference.differences() == []


def test_source_that_is_wholly_trusted_ties_nothing(market: Market) -> None:
    market.otto.reliability = Fraction(1)
    with writing(by=market.book.by, what="Trusted") as entry:
        entry.keep(market.otto)
    one, other = market.buy("A1"), market.buy("A2")
    market.bred(one, 3)
    assert carries(other) == 1
    assert carries(one) == 1


def test_grounds_name_the_word_that_was_wrong(market: Market) -> None:
    one, other = market.buy("A1", "visual"), market.buy("A2", "visual")
    market.look(one, seen=False)
    told = {
        ground.text: ground.without
        for ground in inference.grounds(other, market.book.trait).grounds
    }
    word = "A1: visual Saltgrass HAR, by Otto, taken for 80 %"
    wrong = f"the word on A1, bought with it, was wrong: {word}"
    assert told[wrong] == pytest.approx(by_hand(TRUST))
    told_of_it = [ground.text for ground in inference.grounds(one, market.book.trait).grounds]
    # Of A2 nothing but its word is known: that tells of no other.
    assert told_of_it
    assert not any("A2" in text for text in told_of_it)


def test_no_short_working_where_words_hang_together(market: Market) -> None:
    one, other = market.buy("A1"), market.buy("A2")
    market.bred(one, 3)
    found = inference.grounds(other, market.book.trait)
    assert found.no_working.startswith(
        "The words on animals that came with one another stand or fall"
    )


def test_words_that_tie_too_much_are_taken_apart_and_the_page_says_so(
    market: Market, monkeypatch: pytest.MonkeyPatch, client: Client
) -> None:
    monkeypatch.setattr(subproblems, "SHARED_CELLS", 2)
    monkeypatch.setattr(solving, "SHARED_CELLS", 2)
    one, other = market.buy("A1", "visual"), market.buy("A2", "visual")
    market.look(one, seen=False)
    assert carries(other) == pytest.approx(by_hand(TRUST))
    assert m.Standing.objects.get(animal=other, line=None).apart
    assert inference.differences() == []
    client.force_login(market.book.by)
    page = client.get(f"/animals/{other.pk}/grounds/{market.book.trait.pk}/").content.decode()
    assert "each was weighed by itself" in page
