"""Base rates are the keeper's to change: with a ground, in the daybook, back to the common one."""

from fractions import Fraction
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.disputes.rates import keep_rate, reset_rate
from keeper.domain.explaining import COMMON, Kind, clusters, explained, rates
from tests.keeper.books import Book
from tests.keeper.counting import queries_of
from tests.keeper.disputes.rows import misread, visuals

pytestmark = pytest.mark.django_db


def text(answer: Any) -> str:
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def own(owner: m.Account, kind: Kind, chance: str) -> m.DaybookEntry:
    return keep_rate(rate=m.BaseRate(mishap=kind, chance=chance, ground="my count"), by=owner)


def odds() -> float:
    """Of a misread look against a mixed-up animal."""
    (cluster,) = clusters()
    found = {one.kind: one.share for one in explained(cluster) if len(one.parts) == 1}
    return found[Kind.LOOK] / found[Kind.MIXED_UP]


def test_each_kind_has_a_common_rate_with_its_ground() -> None:
    assert list(COMMON) == list(Kind)
    assert all(0 < one.chance < 1 and one.ground and not one.own for one in COMMON.values())
    assert rates() == COMMON


def test_odds_follow_the_keepers_rate_and_its_undoing(owner: m.Account) -> None:
    misread(Book(owner))
    # A look at a hatchling that a visual pair cannot have: 1 in 200 against 1 in 300.
    assert odds() == pytest.approx(300 / 200)
    entry = own(owner, Kind.LOOK, "1/20")
    assert odds() == pytest.approx(300 / 20)
    undo(entry=entry, by=owner)
    assert odds() == pytest.approx(300 / 200)
    own(owner, Kind.LOOK, "1/20")
    reset_rate(mishap=Kind.LOOK, by=owner)
    assert odds() == pytest.approx(300 / 200)


def test_a_proof_by_one_look_follows_the_rate_of_misreading(owner: m.Account) -> None:
    book = Book(owner)
    dam, sire = (
        book.founder("F1", "female", "visual"),
        book.founder("M1", "male", "possible", "1/2"),
    )
    book.clutch("C1", dam, sire, visual=1)
    # One visual of one: 1/2 by half against 1/2 by a look that errs, for him to carry it.
    assert inference.if_misread(sire, book.trait) == pytest.approx(0.5025 / (0.5025 + 0.005))
    own(owner, Kind.LOOK, "1/10")
    assert inference.misread() == Fraction(1, 10)
    assert inference.if_misread(sire, book.trait) == pytest.approx(0.55 / (0.55 + 0.1))


def test_the_page_lists_all_and_says_that_none_is_own(owner_client: Client) -> None:
    page = text(owner_client.get(reverse("home-disputes-rates")))
    assert "None is your own yet" in page
    assert page.count('<li class="with-step"') == len(Kind)
    assert "a misread look</strong>: 1 in 200" in page


def test_a_rate_is_changed_shown_and_reset(owner_client: Client, owner: m.Account) -> None:
    misread(Book(owner))
    address = reverse("home-disputes-rate", args=["look"])
    answer = owner_client.post(address, {"chance": "1/400", "ground": "counted 800"}, follow=True)
    page = text(answer)
    assert "a misread look</strong>: 1 in 400" in page
    assert "Your own: counted 800. Commonly 1 in 200; common practice, no source." in page
    dispute = m.Dispute.objects.get()
    explanations = text(owner_client.get(reverse("home-disputes-explanations", args=[dispute.pk])))
    assert "a misread look: 1 in 400, for each hatchling and trait; counted 800" in explanations
    assert reverse("home-disputes-rates") in explanations
    assert "counted 800" in text(owner_client.get(address))
    reset = reverse("home-disputes-rate-reset", args=["look"])
    assert "None is your own yet" in text(owner_client.post(reset, follow=True))
    assert ("The common figure counts already. Enter your own to change it.") in text(
        owner_client.post(reset, follow=True)
    )


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        ("0", "Write a chance between 0 and 100 % that is neither."),
        ("100 %", "Write a chance between 0 and 100 % that is neither."),
        ("often", "“often” is no chance."),
    ],
)
def test_what_is_no_rate_is_refused_with_all_that_was_typed(
    owner_client: Client, chance: str, said: str
) -> None:
    address = reverse("home-disputes-rate", args=["look"])
    page = text(owner_client.post(address, {"chance": chance, "ground": "my own eye"}))
    assert said in page
    assert 'value="my own eye"' in page
    assert not m.BaseRate.objects.exists()


def test_a_ground_is_asked_for(owner_client: Client) -> None:
    address = reverse("home-disputes-rate", args=["look"])
    page = text(owner_client.post(address, {"chance": "1/300", "ground": ""}))
    assert "This field is required." in page
    assert not m.BaseRate.objects.exists()


def test_no_such_rate(owner_client: Client) -> None:
    assert owner_client.get(reverse("home-disputes-rate", args=["none"])).status_code == 404


def test_queries_do_not_grow_with_own_rates(owner_client: Client, owner: m.Account) -> None:
    address = reverse("home-disputes-rates")
    own(owner, Kind.LOOK, "1/300")
    one = queries_of(lambda: owner_client.get(address))
    own(owner, Kind.WORD, "1/30")
    own(owner, Kind.RESULT, "1/300")
    assert queries_of(lambda: owner_client.get(address)) == one


def test_a_rate_of_ones_own_explains_with_every_kind_that_is_left(owner: m.Account) -> None:
    book = Book(owner)
    book.clutch("C1", *visuals(book), visual=2, normal=1)
    own(owner, Kind.UNDECLARED, "1/5")
    (cluster,) = clusters()
    assert sum(one.share for one in explained(cluster)) == pytest.approx(1)
