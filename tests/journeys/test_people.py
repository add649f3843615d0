"""Invited and come in; a helper's book without people; a second factor; log-ins; brought back."""

import re

import pyotp
import pytest
from playwright.sync_api import Page, expect

from keeper import models as m
from keeper.domain.accounts import second_factor
from keeper.domain.animals.writes import withdraw_animal
from keeper.models import Account
from tests.factories import PASSWORD, ContactFactory
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.keeper.books import Book

GOOD = "three dry stones"


@pytest.fixture
def bought(owner: Account) -> m.Animal:
    """A founder from somebody, and what they said of it."""
    book = Book(owner)
    animal = book.founder("F-1", "female", "carries")
    source = ContactFactory.create(name="Ansel of Pelnaw")
    m.Animal.objects.filter(pk=animal.pk).update(source=source)
    m.Statement.objects.update(source=source)
    return animal


def log_in(page: Page, name: str, password: str = PASSWORD) -> None:
    page.goto("/log-in/")
    page.get_by_label("Your name in this book").fill(name)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Log in").click()


def test_invited_as_a_viewer_and_shown_neither_people_nor_what_cannot_be_done(
    page: Page, owner: Account, bought: m.Animal, open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, f"/animals/{bought.pk}/")
    expect(page.get_by_text("Ansel of Pelnaw").first).to_be_visible()
    page.goto("/accounts/")
    page.get_by_role("link", name="Invite somebody").click()
    page.get_by_label("For whom").fill("Eda")
    page.get_by_label("Viewer: reads and writes nothing").check()
    axe()
    page.get_by_role("button", name="Make the link").click()
    expect(page.get_by_role("heading", name="The invitation")).to_be_visible()
    axe()
    link = page.get_by_label("The link: it is shown this once").input_value()
    page.goto("/accounts/")
    expect(page.get_by_role("heading", name="Invited, not here yet")).to_be_visible()
    assert fits(page)
    axe()

    page.context.clear_cookies()
    page.goto(link)
    expect(page.get_by_text("Reads the book and writes nothing.")).to_be_visible()
    axe()
    page.get_by_label("Your name in this book").fill("Eda")
    page.get_by_label("Password", exact=True).fill(GOOD)
    page.get_by_label("The password once more").fill(GOOD)
    page.get_by_role("button", name="Make my account").click()
    expect(page.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    axe()

    page.goto(f"/animals/{bought.pk}/")
    expect(page.get_by_text("stated 100 % het by a contact, not tested here").first).to_be_visible()
    expect(page.get_by_text("Ansel")).to_have_count(0)
    expect(page.get_by_role("link", name="Add a statement")).to_have_count(0)
    expect(page.locator("main form[method=post]")).to_have_count(0)
    assert fits(page)
    axe()
    expect(page.get_by_text("Name them")).to_have_count(0)
    page.goto(link)
    expect(page.get_by_role("heading", name="This invitation is over")).to_be_visible()
    axe()


def test_a_second_factor_is_turned_on_and_asked_for(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, "/me/")
    axe()
    page.get_by_role("link", name="Turn a second factor on").click()
    secret = page.locator("code.secret").inner_text().replace(" ", "")
    assert fits(page)
    axe()
    page.get_by_label("The code that the app shows now").fill(pyotp.TOTP(secret).now())
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Turn it on").click()
    expect(page.get_by_role("heading", name="Your recovery codes")).to_be_visible()
    codes = page.locator(".recovery-codes code").all_inner_texts()
    assert len(codes) == 10
    axe()

    m.SecondFactor.objects.update(last_step=0)  # as if the step had passed
    page.context.clear_cookies()
    log_in(page, "Mara")
    expect(page.get_by_label("Code")).to_be_focused()
    page.get_by_label("Code").fill("000000")
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_text("That is not the code of now.").first).to_be_visible()
    axe()
    page.get_by_label("Code").fill(pyotp.TOTP(secret).now())
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_role("heading", name="Today", exact=True)).to_be_visible()

    page.context.clear_cookies()
    log_in(page, "Mara")
    page.get_by_label("Code").fill(codes[0])
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    assert second_factor.codes_left(owner) == 9
    page.goto("/me/second/")
    expect(page.get_by_text("9 recovery codes are left.")).to_be_visible()
    axe()


def test_a_log_in_is_ended(page: Page, owner: Account, open_as: OpenAs, axe: Axe) -> None:
    log_in(page, "Mara")
    expect(page.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    before = page.context.cookies()
    page.context.clear_cookies()
    log_in(page, "Mara")
    expect(page.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    page.goto("/me/")
    expect(page.get_by_text("· this one")).to_have_count(1)
    assert fits(page)
    axe()
    page.get_by_role("button", name=re.compile("^End the log-in")).click()
    expect(page.get_by_text("You are logged out there.")).to_be_visible()
    page.context.clear_cookies()
    page.context.add_cookies(before)  # type: ignore[arg-type]
    page.goto("/me/")
    expect(page.get_by_role("heading", name="Log in")).to_be_visible()


def test_a_withdrawn_record_is_brought_back_from_the_journal(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe
) -> None:
    animal = Book(owner).founder("F-1", "female")
    withdraw_animal(animal=animal, by=owner, reason="typed twice")
    open_as(owner, "/daybook/")
    page.get_by_label("About").select_option(label="animals")
    expect(page.get_by_text("2 entries.")).to_be_visible()
    page.get_by_role("link", name="What was withdrawn").click()
    expect(page.get_by_text("“typed twice”")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_role("button", name="Bring back the animal F-1").click()
    expect(page.locator(".moved")).to_contain_text("Restored: F-1")
    expect(page.get_by_role("heading", name="Nothing of this kind is withdrawn")).to_be_visible()
    axe()
