"""A passkey made by a device, shown in place of name and password, and of the code; removed."""

import re
from collections.abc import Callable
from typing import Any

import pyotp
import pytest
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from keeper.domain.accounts import second_factor
from keeper.models import Account, Passkey
from tests.factories import PASSWORD
from tests.journeys.conftest import Axe, OpenAs, fits


@pytest.fixture
def device(page: Page) -> Callable[[bool], None]:
    """A device of the browser's own that keeps passkeys; returns how to have it refuse."""
    browser = page.context.new_cdp_session(page)
    browser.send("WebAuthn.enable")
    how: dict[str, Any] = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    name = browser.send("WebAuthn.addVirtualAuthenticator", {"options": how})["authenticatorId"]

    def verifies(does: bool) -> None:
        sent = {"authenticatorId": name, "isUserVerified": does}
        browser.send("WebAuthn.setUserVerified", sent)

    return verifies


def log_in(page: Page, name: str) -> None:
    page.get_by_label("Your name in this book").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in", exact=True).click()


def test_a_passkey_is_made_shown_and_removed(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe, device: Callable[[bool], None]
) -> None:
    open_as(owner, "/me/")
    page.get_by_role("link", name="Add a passkey").click()
    expect(page.get_by_text("It is for localhost alone")).to_be_visible()
    axe()
    page.get_by_label("What to call it").fill("phone")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_text("Type your password, or use a passkey of yours.").first).to_be_visible()
    axe()
    expect(page.get_by_label("What to call it")).to_have_value("phone")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("button", name="Make it")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_role("button", name="Make it").click()
    expect(page.get_by_text("You can log in with the passkey “phone”.")).to_be_visible()
    assert fits(page)
    axe()

    page.context.clear_cookies()
    page.goto("/log-in/?next=/me/")
    assert fits(page)
    axe()
    device(False)
    page.get_by_role("button", name="Log in with a passkey").click()
    expect(page.get_by_text("Nothing came of it")).to_be_visible()
    axe()
    device(True)
    page.get_by_role("button", name="Log in with a passkey").click()
    expect(page.get_by_text("You have 1 passkey.")).to_be_visible()

    page.get_by_role("link", name="Your passkeys").click()
    page.get_by_role("link", name="Remove phone").click()
    axe()
    page.get_by_role("button", name="Remove it, with a passkey as the proof").click()
    expect(page.get_by_text("Nobody comes in by “phone” any more.")).to_be_visible()
    assert not Passkey.objects.exists()


def test_a_passkey_in_place_of_the_code_and_one_that_is_not_known_any_more(
    page: Page, owner: Account, open_as: OpenAs, axe: Axe, device: Callable[[bool], None]
) -> None:
    secret = second_factor.new_secret()
    second_factor.turn_on(account=owner, secret=secret, code=pyotp.TOTP(secret).now())
    open_as(owner, "/me/passkeys/")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Make it").click()
    expect(
        page.get_by_text("After the password a passkey does in place of the code.")
    ).to_be_visible()

    page.context.clear_cookies()
    page.goto("/log-in/")
    log_in(page, "Mara")
    expect(page.get_by_role("button", name="Use a passkey instead")).to_be_visible()
    assert fits(page)
    axe()
    page.get_by_role("button", name="Use a passkey instead").click()
    expect(page.get_by_role("heading", name="Today", exact=True)).to_be_visible()

    # Another passkey of the same account stays; that of this device is gone from the book.
    Passkey.objects.update(credential="gone")
    page.context.clear_cookies()
    page.goto("/log-in/")
    page.get_by_role("button", name="Log in with a passkey").click()
    expect(page.get_by_text("This passkey is not known here").first).to_be_visible()
    assert fits(page)
    axe()


@pytest.mark.parametrize("without", ["a script", "support"])
def test_without_a_script_or_support_the_page_says_so_and_the_password_works(
    without: str, page: Page, owner: Account, axe: Axe
) -> None:
    Passkey.objects.create(
        account=owner, name="phone", host="localhost", credential="c", public="p", handle="h"
    )
    if without == "support":
        page.add_init_script("delete window.PublicKeyCredential")
    else:
        page.route(re.compile("/js/passkeys"), lambda route: route.abort())
    page.goto("/log-in/")
    expect(page.get_by_text("A passkey needs JavaScript here")).to_be_visible()
    expect(page.get_by_role("button", name="Log in with a passkey")).to_be_hidden()
    assert fits(page)
    axe()
    log_in(page, "Mara")
    expect(page.get_by_role("heading", name="Today", exact=True)).to_be_visible()


def test_under_a_bare_number_the_page_says_why_there_are_none(
    page: Page, owner: Account, live_server: LiveServer, axe: Axe
) -> None:
    Passkey.objects.create(
        account=owner, name="phone", host="localhost", credential="c", public="p", handle="h"
    )
    page.goto(live_server.url.replace("localhost", "127.0.0.1") + "/log-in/?next=/me/passkeys/")
    expect(page.get_by_text("The passkeys of this book are for another address")).to_be_visible()
    axe()
    log_in(page, "Mara")
    expect(page.get_by_text("The book is open here by a number (127.0.0.1)")).to_be_visible()
    expect(page.get_by_text("for localhost, not asked for here")).to_be_visible()
    expect(page.get_by_role("link", name=live_server.url)).to_be_visible()
    assert fits(page)
    axe()
