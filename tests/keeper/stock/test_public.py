"""The public page of what is for sale: off, on, of no private thing, and gone when switched off."""

from datetime import date
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain.book.writing import Refused, writing
from keeper.domain.stock import public
from keeper.domain.stock import writes as stock
from keeper.domain.stock.money import Money
from tests.factories import AccountFactory, ContactFactory
from tests.keeper.books import Book
from tests.keeper.sent import opened

pytestmark = pytest.mark.django_db
CANARY = "Canary-Xq7"


@pytest.fixture
def animals(owner: m.Account) -> list[m.Animal]:
    """Two for sale, whose every private field holds a canary."""
    book = Book(owner)
    seller = ContactFactory.create(
        name=f"{CANARY} seller", reach=f"{CANARY} reach", notes=f"{CANARY} contact"
    )
    found = [book.founder(code, "female", "visual") for code in ("F-1", "F-2")]
    for one in found:
        with writing(by=owner, what=f"{CANARY} entry", reason=f"{CANARY} reason") as entry:
            one.source, one.place, one.notes = seller, f"{CANARY} place", f"{CANARY} notes"
            entry.keep(one)
            entry.keep(m.Paper(animal=one, source=seller, says=f"{CANARY} paper"))
            entry.keep(m.HealthNote(animal=one, on=date(2026, 9, 1), text=f"{CANARY} health"))
    asked = [(one, Money(Decimal("777.25"), "EUR")) for one in found]
    stock.offer(asked=asked, on=date(2026, 9, 1), by=owner, reason=f"{CANARY} why")
    return found


def seen() -> str:
    """The page as a stranger sees it."""
    found = public.page()
    assert found is not None
    answer = Client().get(reverse("papers-stock", args=[found.code]))
    assert answer.status_code == 200
    return str(answer.content.decode())


def test_it_is_off_until_it_is_switched_on(animals: list[m.Animal], owner: m.Account) -> None:
    assert public.page() is None
    assert Client().get("/papers/stock/anything/").status_code == 404
    with pytest.raises(Refused, match="off already"):
        public.switch_off(by=owner)


def test_a_stranger_sees_what_is_for_sale_and_nothing_private(
    animals: list[m.Animal], owner: m.Account
) -> None:
    owner.reach = "mara@example.org"
    public.make(prices=False, by=owner)
    said = seen()
    for words in ("F-1", "F-2", "Saltgrass", "mara@example.org", "Price on asking"):
        assert words in said
    assert CANARY not in said
    assert "777" not in said
    public.make(prices=True, by=owner)
    assert seen().count("777.25 EUR") == 2
    assert CANARY not in seen()


def test_what_is_not_for_sale_any_more_is_left_out_at_once(
    animals: list[m.Animal], owner: m.Account
) -> None:
    public.make(prices=True, by=owner)
    held = m.Sale(animal=animals[0], held_on=date(2026, 9, 2))
    stock.begin_sales(sales=[held], buyer=None, by=owner)
    assert "F-1" not in seen()
    assert "F-2" in seen()


def test_made_anew_it_keeps_its_address_and_switched_off_it_loses_it(
    animals: list[m.Animal], owner: m.Account
) -> None:
    public.make(prices=True, by=owner)
    first = m.StockPage.objects.get().code
    public.make(prices=False, by=owner)
    assert m.StockPage.objects.get().code == first
    public.switch_off(by=owner)
    assert Client().get(reverse("papers-stock", args=[first])).status_code == 404
    public.make(prices=False, by=owner)
    assert m.StockPage.objects.get().code != first


def test_the_owner_alone_switches_it(
    animals: list[m.Animal], owner_client: Client, owner: m.Account
) -> None:
    address = reverse("animals-stock-public")
    owner_client.post(address, opened(owner_client, address) | {"prices": "on"})
    assert m.StockPage.objects.get().prices
    assert "On, with 2 animals" in owner_client.get(address).content.decode()
    owner_client.post(address, opened(owner_client, address) | {"off": "1"})
    assert not m.StockPage.objects.exists()
    helper = Client()
    helper.force_login(
        AccountFactory.create(sees_people=True, sees_prices=True),
        backend="django.contrib.auth.backends.ModelBackend",
    )
    assert helper.get(address).status_code == 403


def test_the_static_folder_holds_it(
    animals: list[m.Animal], owner: m.Account, tmp_path: Path
) -> None:
    public.make(prices=True, by=owner)
    call_command("public_pages", tmp_path / "out", stdout=StringIO())
    code = m.StockPage.objects.get().code
    written = (tmp_path / "out/papers/stock" / code / "index.html").read_text(encoding="utf-8")
    assert "777.25 EUR" in written
    assert CANARY not in written
    assert 'href="../../../css/tokens.css"' in written
