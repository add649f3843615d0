"""From a new book to the first page: the code, the account, in, out, and a wrong password."""

import re

from playwright.sync_api import Page, expect

from keeper.domain.accounts import writes as accounts
from keeper.models import Account
from tests.factories import PASSWORD
from tests.journeys.conftest import Axe, OpenAs, fits


def test_a_new_book_is_set_up_with_the_code(page: Page, db: None, axe: Axe) -> None:
    code = accounts.new_code()
    page.goto("/")
    expect(page.get_by_role("heading", name="Set up this book")).to_be_visible()
    expect(page.get_by_label("One-time code")).to_be_focused()
    axe()

    page.get_by_label("One-time code").fill("AAAA-AAAA")
    page.get_by_label("Your name in this book").fill("Mara")
    page.get_by_label("Password", exact=True).fill("three dry stones")
    page.get_by_label("The password once more").fill("three dry stones")
    page.get_by_role("button", name="Make the account").click()
    expect(page.get_by_text("That is not the code printed").last).to_be_visible()
    expect(page.get_by_label("Your name in this book")).to_have_value("Mara")
    axe()

    page.get_by_label("One-time code").fill(code)
    page.get_by_label("Password", exact=True).fill("three dry stones")
    page.get_by_label("The password once more").fill("three dry stones")
    page.get_by_role("button", name="Make the account").click()
    expect(page.get_by_role("heading", name="How shall the book begin?")).to_be_visible()
    expect(page.get_by_role("button", name="Load the Ostrel Yard example")).to_be_visible()
    axe()

    page.get_by_role("button", name="Start empty").click()
    expect(page.get_by_role("button", name="Log out")).to_be_visible()
    assert Account.objects.get().name == "Mara"
    axe()


def test_logging_in_and_out(page: Page, owner: Account, axe: Axe) -> None:
    page.goto("/")
    expect(page).to_have_url(re.compile(r"/log-in/\?next=/$"))
    axe()
    page.get_by_label("Your name in this book").fill("mara")
    page.get_by_label("Password").fill("not this one")
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_text("That name and password do not belong together.")).to_be_visible()
    expect(page.get_by_label("Your name in this book")).to_have_value("mara")
    axe()

    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_role("heading", name="Today", exact=True)).to_be_visible()

    page.get_by_role("button", name="Log out").click()
    expect(page.get_by_role("heading", name="Log in")).to_be_visible()
    page.goto("/")
    expect(page.get_by_role("heading", name="Log in")).to_be_visible()


def test_too_many_wrong_passwords_have_to_wait(page: Page, owner: Account, axe: Axe) -> None:
    page.goto("/log-in/")
    for _ in range(5):
        page.get_by_label("Your name in this book").fill("Mara")
        page.get_by_label("Password").fill("not this one")
        page.get_by_role("button", name="Log in").click()
        page.wait_for_load_state()
    expect(page.get_by_role("heading", name="Too many tries")).to_be_visible()
    axe()


def test_the_theme_is_switched_in_place_and_kept(
    page: Page, owner: Account, open_as: OpenAs
) -> None:
    open_as(owner, "/")
    background = "getComputedStyle(document.documentElement).backgroundColor"
    light = page.evaluate(background)
    with page.expect_response("**/theme/"):
        page.get_by_role("button", name="Dark page").click()
    dark = page.evaluate(background)
    assert dark != light
    page.reload()
    assert page.evaluate(background) == dark
    expect(page.get_by_role("button", name="Dark page")).to_have_attribute("aria-pressed", "true")


def test_the_keyboard_reaches_the_page_past_the_navigation(
    page: Page, owner: Account, open_as: OpenAs
) -> None:
    open_as(owner, "/")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the page")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()


def test_the_error_pages_read_well(page: Page, owner: Account, open_as: OpenAs, axe: Axe) -> None:
    open_as(owner, "/nowhere/")
    expect(page.get_by_role("heading", name="This page is not in the book")).to_be_visible()
    axe()


def test_the_page_is_never_wider_than_the_screen(
    page: Page, owner: Account, open_as: OpenAs
) -> None:
    open_as(owner, "/")
    assert fits(page)


def test_targets_are_large_enough_for_a_thumb(page: Page, owner: Account, open_as: OpenAs) -> None:
    open_as(owner, "/")
    sizes = [
        target.bounding_box()
        for target in page.locator("a:visible, button:visible").all()
        if target.inner_text() != "To the page"
    ]
    assert len(sizes) > 4
    assert [box for box in sizes if box and box["height"] < 44] == []
