"""A sale from the price to the day the animal goes, and every way in which it does not."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.refusing import NothingChanged
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.daybook.withdrawn import bring_back
from keeper.domain.stock import writes as stock
from keeper.domain.stock.likeness import brought_before
from keeper.domain.stock.money import Money, money, totals
from keeper.domain.stock.queries import (
    Shelf,
    asked_before,
    brought,
    counts,
    offered,
    run_out,
    sales,
)
from tests.factories import AccountFactory, ContactFactory
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db
DAY, LATER, LAST = date(2026, 9, 1), date(2026, 9, 20), date(2026, 10, 2)


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


@pytest.fixture
def animal(book: Book) -> m.Animal:
    return visual(book, "F-1")


def visual(book: Book, code: str) -> m.Animal:
    """An animal that was seen to be a visual."""
    found = book.founder(code, "female", "visual")
    with writing(by=book.by, what="Looked") as entry:
        book.look(entry, found, seen=True)
    return found


def eur(amount: str) -> Money:
    return Money(Decimal(amount), "EUR")


def ask(animal: m.Animal, asked: Money | None, on: date = DAY) -> m.DaybookEntry:
    return stock.offer(asked=[(animal, asked)], on=on, by=m.Account.objects.get())


def sale(animal: m.Animal, **what: object) -> m.Sale:
    given = {"price": Decimal(200), "currency": "EUR", **what}
    made = m.Sale(animal=animal, **given)
    stock.begin_sales(sales=[made], buyer=None, by=m.Account.objects.get())
    return made


def status(animal: m.Animal) -> tuple[str, date | None]:
    now = m.Animal.objects.get(pk=animal.pk)
    return now.status, now.status_since


def test_another_price_is_another_offer_and_the_history_is_kept(animal: m.Animal) -> None:
    ask(animal, eur("250"))
    ask(animal, eur("220.50"), LATER)
    rows = [(one.on, one.ended_on, one.asked) for one in asked_before(animal)]
    assert rows == [(LATER, None, Decimal("220.50")), (DAY, LATER, Decimal("250.00"))]
    assert status(animal) == ("offered", DAY)
    with pytest.raises(NothingChanged):
        ask(animal, eur("220.50"), LAST)
    with pytest.raises(Refused, match="asked since 20 September 2026"):
        ask(animal, eur("200"), DAY)


def test_taken_off_sale_it_is_kept_again(animal: m.Animal, owner: m.Account) -> None:
    ask(animal, None)
    stock.take_off(animal=animal, on=LATER, by=owner)
    assert status(animal) == ("kept", LATER)
    assert [one.ended_on for one in asked_before(animal)] == [LATER]
    with pytest.raises(Refused, match="not for sale"):
        stock.take_off(animal=animal, on=LATER, by=owner)


def test_from_the_deposit_to_the_day_it_goes_and_back(animal: m.Animal, owner: m.Account) -> None:
    ask(animal, eur("250"))
    held = sale(animal, held_on=DAY, held_until=LATER, deposit=Decimal(50))
    assert (held.state, held.balance) == (m.SaleState.HELD, Decimal(150))
    assert status(animal) == ("held", DAY)
    assert m.Offer.objects.get().ended_on is None
    assert held.sold_as == ""
    held.sold_on = LATER
    stock.begin_sales(sales=[held], buyer=None, by=owner)
    assert m.Offer.objects.get().ended_on == LATER
    assert status(animal) == ("held", DAY)
    assert "visual Saltgrass (HAR)" in held.sold_as
    assert held.genes == [["Saltgrass", "visual"]]
    stock.hand_over(sale=held, on=LAST, by=owner)
    assert status(animal) == ("sold", LAST)
    stock.take_back(sale=held, on=date(2026, 10, 9), note="It did not eat.", by=owner)
    assert status(animal) == ("kept", date(2026, 10, 9))
    now = m.Sale.objects.get()
    assert (now.state, now.note) == (m.SaleState.RETURNED, "It did not eat.")
    # It can be sold once more, and the first sale stays.
    sale(animal, sold_on=date(2026, 10, 20), handed_on=date(2026, 10, 20))
    states = [one.state for one in m.Sale.objects.order_by("pk")]
    assert states == [m.SaleState.RETURNED, m.SaleState.HANDED]


def test_called_off_it_is_for_sale_at_what_was_asked(animal: m.Animal, owner: m.Account) -> None:
    ask(animal, eur("250"))
    held = sale(animal, held_on=DAY)
    stock.call_off(sale=held, on=LATER, note="No answer.", by=owner)
    assert status(animal) == ("offered", LATER)
    assert m.Offer.objects.get().ended_on is None
    with pytest.raises(Refused, match="called off"):
        stock.hand_over(sale=held, on=LAST, by=owner)


def test_what_is_not_the_next_step_is_refused(animal: m.Animal, owner: m.Account) -> None:
    held = sale(animal, held_on=DAY)
    with pytest.raises(Refused, match="on which day it was sold"):
        stock.hand_over(sale=held, on=LATER, by=owner)
    with pytest.raises(Refused, match="on which day it went"):
        stock.take_back(sale=held, on=LATER, note="", by=owner)
    with pytest.raises(Refused, match="held for somebody or sold already"):
        sale(animal, sold_on=LATER)
    with pytest.raises(Refused, match="held for somebody or sold"):
        ask(animal, eur("90"))
    with pytest.raises(Refused, match="held for somebody or sold"):
        stock.take_off(animal=animal, on=LATER, by=owner)


def test_what_ended_meanwhile_is_not_gone_on_with(animal: m.Animal, owner: m.Account) -> None:
    held = sale(animal, held_on=DAY)
    stale = m.Sale.objects.get(pk=held.pk)
    stock.call_off(sale=held, on=LATER, note="", by=owner)
    stale.sold_on = LATER
    with pytest.raises(Refused, match="called off by now"):
        stock.begin_sales(sales=[stale], buyer=None, by=owner)
    stock.withdraw(sale=held, reason="never was", by=owner)
    with pytest.raises(Refused, match="was withdrawn"):
        stock.change(sale=stale, by=owner)


def test_an_animal_that_died_is_not_handed_over(animal: m.Animal, owner: m.Account) -> None:
    made = sale(animal, sold_on=DAY)
    with writing(by=owner, what="It died") as entry:
        now = entry.now(animal)
        now.status, now.status_since = m.Status.DIED, LATER
        entry.keep(now)
    with pytest.raises(Refused, match="Call the sale off"):
        stock.hand_over(sale=made, on=LAST, by=owner)
    made.note = "seen by the veterinarian"
    stock.change(sale=made, by=owner)
    stock.call_off(sale=made, on=LAST, note="It died.", by=owner)
    assert status(animal) == ("died", LATER)


def test_of_two_at_once_one_has_it_by_the_database(animal: m.Animal, owner: m.Account) -> None:
    sale(animal, held_on=DAY)
    with (
        pytest.raises(ValidationError, match="held for somebody or sold already"),
        writing(by=owner, what="Beside the checks") as entry,
    ):
        entry.keep(m.Sale(animal=animal, held_on=DAY))


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ({"sold_on": DAY, "currency": ""}, "in which currency"),
        ({"held_on": DAY, "deposit": Decimal(201)}, "more than the price"),
        ({"held_on": LATER, "sold_on": DAY}, "before an earlier step"),
        ({"held_on": DAY, "handed_on": LATER}, "on which day it was sold"),
        ({"held_on": LATER, "held_until": DAY}, "ends before it begins"),
    ],
)
def test_sums_and_days_that_cannot_be_are_refused(
    animal: m.Animal, what: dict[str, object], said: str
) -> None:
    with pytest.raises(ValidationError, match=said):
        sale(animal, **what)
    assert status(animal)[0] == "kept"
    assert not m.Sale.objects.exists()


@pytest.mark.parametrize("gone", ["sold", "died", "lent"])
def test_what_is_not_here_is_neither_offered_nor_sold(
    animal: m.Animal, owner: m.Account, gone: str
) -> None:
    with writing(by=owner, what="It went") as entry:
        animal.status = gone
        entry.keep(animal)
    with pytest.raises(Refused, match="by its status"):
        ask(animal, None)
    with pytest.raises(Refused, match="by its status"):
        sale(animal, held_on=DAY)


def test_a_withdrawn_sale_leaves_the_animal_as_it_was(animal: m.Animal, owner: m.Account) -> None:
    ask(animal, eur("250"))
    made = sale(animal, sold_on=DAY, handed_on=DAY)
    stock.withdraw(sale=made, reason="another animal", by=owner)
    assert status(animal)[0] == "kept"
    assert counts()[Shelf.GONE] == 0


def test_a_sale_that_is_brought_back_is_followed_by_the_status(
    animal: m.Animal, owner: m.Account
) -> None:
    made = sale(animal, sold_on=DAY, handed_on=LATER)
    stock.withdraw(sale=made, reason="another animal", by=owner)
    assert status(animal)[0] == "kept"
    bring_back(record=m.Sale.objects.get(), by=owner)
    assert status(animal) == ("sold", LATER)
    assert counts()[Shelf.GONE] == 1
    with pytest.raises(Refused, match="counts already"):
        bring_back(record=m.Sale.objects.get(), by=owner)


def test_a_sale_is_not_brought_back_beside_another(animal: m.Animal, owner: m.Account) -> None:
    first = sale(animal, held_on=DAY)
    stock.withdraw(sale=first, reason="he never came", by=owner)
    sale(animal, sold_on=LATER)
    with pytest.raises(ValidationError, match="held for somebody or sold already"):
        bring_back(record=m.Sale.objects.get(pk=first.pk), by=owner)
    assert status(animal)[0] == "held"


def test_a_hold_that_has_run_out_is_asked_about_today(
    owner_client: Client, client: Client, animal: m.Animal
) -> None:
    made = sale(animal, held_on=DAY, held_until=LATER)
    words = "On hold for longer than was agreed"
    assert list(run_out(LATER)) == []
    assert list(run_out(LATER + timedelta(days=1))) == [made]
    page = owner_client.get("/").content.decode()
    assert words in page and reverse("animals-sale", args=[made.pk]) in page
    client.force_login(AccountFactory.create(role="helper", sees_people=False))
    assert words not in client.get("/").content.decode()
    stock.call_off(sale=made, on=LATER, note="", by=m.Account.objects.get(role="owner"))
    assert words not in owner_client.get("/").content.decode()


def test_undo_takes_a_step_back_whole(animal: m.Animal, owner: m.Account) -> None:
    ask(animal, eur("250"))
    made = m.Sale(animal=animal, price=Decimal(240), currency="EUR", sold_on=LATER)
    made.handed_on = LATER
    new = ContactFactory.build(name="Wenna Kest")
    entry = stock.begin_sales(sales=[made], buyer=new, by=owner)
    assert m.Sale.objects.get().buyer == m.Contact.objects.get(name="Wenna Kest")
    undo(entry=entry, by=owner)
    assert status(animal) == ("offered", DAY)
    assert m.Offer.objects.get().ended_on is None
    assert not m.Sale.objects.live().exists()
    assert not m.Contact.objects.live().filter(name="Wenna Kest").exists()


def test_corrected_the_animals_status_follows_its_last_sale(
    animal: m.Animal, owner: m.Account
) -> None:
    made = sale(animal, sold_on=DAY, handed_on=DAY)
    made.handed_on = None
    stock.change(sale=made, by=owner, reason="it is still here")
    assert status(animal)[0] == "held"


def test_nothing_of_it_moves_a_figure(book: Book, animal: m.Animal) -> None:
    changes = m.StandingChange.objects.count()
    ask(animal, eur("250"))
    sale(animal, sold_on=DAY, handed_on=DAY)
    assert m.StandingChange.objects.count() == changes
    assert inference.differences() == []


def test_sums_are_exact_and_currencies_are_never_added() -> None:
    found = totals([eur("0.10"), eur("0.20"), None, Money(Decimal("3"), "GBP")])
    assert [str(one) for one in found] == ["0.30 EUR", "3 GBP"]
    assert str(Money(Decimal("1249.5"), "EUR")) == "1\u202f249.50 EUR"
    assert money(None, "") is None


def test_what_the_gone_brought_by_currency(book: Book) -> None:
    for code, price, currency in (("A", "99.95", "EUR"), ("B", "0.05", "EUR"), ("C", "5", "GBP")):
        sale(book.founder(code, "male"), price=Decimal(price), currency=currency,
             sold_on=DAY, handed_on=DAY)  # fmt: skip
    assert [str(one) for one in brought(sales(Shelf.GONE))] == ["100 EUR", "5 GBP"]


def test_lists_by_what_animals_carry(book: Book, animal: m.Animal) -> None:
    plain = book.founder("F-2", "male", "clear")
    for one in (animal, plain):
        ask(one, None)
    assert [one.code for one in offered()] == ["F-1", "F-2"]
    assert [one.code for one in offered(book.trait.pk)] == ["F-1"]
    sale(plain, held_on=DAY)
    assert [one.animal.code for one in sales(Shelf.HELD)] == ["F-2"]
    assert not sales(Shelf.HELD, book.trait.pk).exists()


def test_what_animals_alike_brought(book: Book, animal: m.Animal) -> None:
    assert brought_before(animal).compared == 0
    stated, other = book.founder("S", "male", "visual"), book.founder("O", "male", "carries")
    for one in (visual(book, "L"), stated, other, visual(book, "R")):
        made = sale(one, sold_on=DAY, handed_on=DAY)
    stock.take_back(sale=made, on=LATER, note="", by=book.by)
    found = brought_before(animal)
    # A source's bare word is another kind than what was seen, and so is a carrier; the one that
    # came back brought nothing.
    assert [(one.sale.animal.code, one.same, one.of) for one in found.sales] == [("L", 1, 1)]
    assert found.compared == 3
