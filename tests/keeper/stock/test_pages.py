"""The pages of the stock: forms, rights, files, the receipt."""

from datetime import date, timedelta
from decimal import Decimal

import pypdfium2
import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keeper import models as m
from keeper.domain.stock import writes as stock
from keeper.domain.stock.money import Money
from keeper.pages.frame.fields import read_amount
from tests.factories import AccountFactory, ContactFactory
from tests.keeper.books import Book
from tests.keeper.sent import opened

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


@pytest.fixture
def book(owner: m.Account) -> Book:
    return Book(owner)


@pytest.fixture
def animal(book: Book) -> m.Animal:
    found = book.founder("F-1", "female", "visual")
    stock.offer(asked=[(found, Money(Decimal(250), "EUR"))], on=date(2026, 9, 1), by=book.by)
    return found


def sold(animal: m.Animal, by: m.Account, **what: object) -> m.Sale:
    buyer = ContactFactory.create(name="Wenna Kest")
    given = {"price": Decimal("240.50"), "currency": "EUR", "sold_on": date(2026, 9, 20), **what}
    made = m.Sale(animal=animal, buyer=buyer, **given)
    stock.begin_sales(sales=[made], buyer=None, by=by)
    return made


def page(client: Client, name: str, *args: object, **query: object) -> str:
    answer = client.get(reverse(name, args=args), query_params=query)
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize(
    ("typed", "read"),
    [("250", "250"), ("249,50", "249.50"), ("1 250.5", "1250.5"), ("1\u202f250", "1250")],
)
def test_sums_are_read_as_they_are_written(typed: str, read: str) -> None:
    assert read_amount(typed) == Decimal(read)


@pytest.mark.parametrize("typed", ["1.250", "-3", "1e9", "ten", "1,234,567", "12345678901"])
def test_a_sum_that_can_be_read_in_two_ways_is_asked_for_again(typed: str) -> None:
    with pytest.raises(ValidationError, match="That is no sum"):
        read_amount(typed)


def test_empty_lists_say_what_to_do(owner_client: Client) -> None:
    assert "Nothing is for sale" in page(owner_client, "animals-stock")
    assert "Nothing" not in page(owner_client, "animals-stock", list="sold")
    assert "No animal is chosen" in page(owner_client, "animals-sale-new")


def test_offered_held_sold_handed_over(owner_client: Client, animal: m.Animal) -> None:
    assert "250 EUR" in page(owner_client, "animals-stock")
    address = f"{reverse('animals-sale-new')}?animal={animal.pk}"
    typed = {"new_buyer": "Wenna Kest", "on": TODAY(), "currency": "eur",
             f"price-{animal.pk}": "240", f"deposit-{animal.pk}": "40", "step": "hold",
             "held_until": TODAY()}  # fmt: skip
    answer = owner_client.post(address, typed | opened(owner_client, address))
    held = m.Sale.objects.get()
    assert answer["Location"].startswith(reverse("animals-sale", args=[held.pk]))
    assert "200 EUR left to pay" in page(owner_client, "animals-sale", held.pk)
    assert "On hold" in page(owner_client, "animals-one", animal.pk)
    # The form begins with what was agreed.
    assert 'value="240"' in owner_client.get(address).content.decode()
    typed |= {"step": "sell", "new_buyer": "", "buyer": held.buyer_id}
    owner_client.post(address, typed | opened(owner_client, address))
    (now,) = m.Sale.objects.all()
    assert (now.state, now.held_on, now.buyer) == (m.SaleState.SOLD, TODAY(), held.buyer)
    address = reverse("animals-sale-step", args=[now.pk, "hand-over"])
    owner_client.post(address, {"on": TODAY(), "note": ""} | opened(owner_client, address))
    assert m.Animal.objects.get(pk=animal.pk).status == m.Status.SOLD
    assert "240 EUR" in page(owner_client, "animals-stock", list="sold")


def test_what_is_wrong_is_said_at_its_field_and_nothing_is_lost(
    owner_client: Client, animal: m.Animal
) -> None:
    address = f"{reverse('animals-sale-new')}?animal={animal.pk}"
    typed = {"step": "hold", "on": TODAY() + timedelta(days=2), "currency": "", "note": "by mail",
             f"price-{animal.pk}": "200", f"deposit-{animal.pk}": "300"}  # fmt: skip
    said = owner_client.post(address, typed | opened(owner_client, address)).content.decode()
    for fault in ("still to come", "in which currency", "more than the price"):
        assert fault in said
    assert 'value="by mail"' in said
    assert not m.Sale.objects.exists()


def test_an_animal_held_back_is_asked_about(owner_client: Client, book: Book) -> None:
    animal = book.founder("F-9", "female", "visual")
    project = m.Project.objects.create(species=book.species, name="Pale tide")
    m.Member.objects.create(project=project, animal=animal, since=TODAY(), holdback=True)
    address = reverse("animals-stock-offer", args=[animal.pk])
    typed = {"asked": "90", "currency": "EUR", "on": TODAY()} | opened(owner_client, address)
    assert "held back for Pale tide" in owner_client.post(address, typed).content.decode()
    assert not m.Offer.objects.exists()


def test_prices_and_buyers_are_for_those_who_may_see_them(
    owner: m.Account, animal: m.Animal
) -> None:
    made = sold(animal, owner)
    client = Client()
    client.force_login(AccountFactory.create(), backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(reverse("animals-sale", args=[made.pk])).status_code == 403
    assert client.get(reverse("animals-sale-receipt", args=[made.pk, "a5"])).status_code == 403
    listed = page(client, "animals-stock", list="to-hand-over")
    file = client.get(reverse("animals-stock"), {"list": "to-hand-over", "file": "csv"})
    for said in (listed, file.getvalue().decode()):
        assert "F-1" in said
        assert not [one for one in ("Wenna", "240", "250") if one in said]
    history = page(client, "animals-history", animal.pk)
    assert "240" not in history


def test_receipt_says_what_was_paid(
    owner_client: Client, owner: m.Account, animal: m.Animal
) -> None:
    made = sold(animal, owner, deposit=Decimal(40), held_on=date(2026, 9, 2))
    answer = owner_client.get(reverse("animals-sale-receipt", args=[made.pk, "a5"]))
    paper = pypdfium2.PdfDocument(answer.content)
    assert len(paper) == 1
    said = " ".join(paper[0].get_textpage().get_text_bounded().split())
    for words in ("240.50 EUR", "40 EUR", "Wenna Kest", "Mara", "F-1", "No tax is reckoned here"):
        assert words in said
    stock.call_off(sale=made, on=date(2026, 9, 21), note="", by=owner)
    gone = owner_client.get(reverse("animals-sale-receipt", args=[made.pk, "a5"]))
    assert gone.status_code == 404


def test_several_are_put_up_for_sale_at_one_price(owner_client: Client, book: Book) -> None:
    animals = [book.founder(f"F-{number}", "female") for number in range(3)]
    address = reverse("animals-together")
    typed = {"animals": [one.pk for one in animals], "asked": "75.50", "currency": "EUR"}
    owner_client.post(address, typed | opened(owner_client, address))
    rows = m.Offer.objects.values_list("animal__code", "asked", "currency")
    assert set(rows) == {(f"F-{number}", Decimal("75.50"), "EUR") for number in range(3)}
    assert m.DaybookEntry.objects.filter(what__startswith="Changed price").count() == 1
    typed |= {"status": "died"}
    said = owner_client.post(address, typed | opened(owner_client, address)).content.decode()
    assert "A price is asked of what is for sale" in said
