"""Journeys: a real browser on a real server, on a phone and at a desk.

A journey takes `page` (a browser page of the size under test) or `open_as`, and `axe`:

    def test_something(page: Page, open_as: OpenAs, owner: Account, axe: Axe) -> None:
        open_as(owner, "/animals/")
        page.get_by_role("link", name="F-014").click()
        axe()

Every journey runs once on a phone and once at a desk. `axe()` checks the page as it stands in
both themes: by every rule in the light one, and in the dark one by those of colour, since no other
can differ there. A script error or a refusal by the content security policy fails the journey.

A click returns when the next page has begun to come, before anything of it is there. `expect(…)`
waits for what it looks for; whatever looks but once, like `axe()`, `fits(page)`, `page.evaluate` or
the rows, comes after an `expect(…)` or begins by `settled(page)`.
"""

import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from playwright.sync_api import ConsoleMessage, Page, expect
from pytest_django.live_server_helper import LiveServer

from keeper.models import Account

OpenAs = Callable[[Account, str], None]
Axe = Callable[[], None]

SCREENS: dict[str, dict[str, Any]] = {
    "phone": {
        "viewport": {"width": 390, "height": 844},
        "device_scale_factor": 2,
        "has_touch": True,
        "is_mobile": True,
    },
    "desk": {"viewport": {"width": 1280, "height": 800}},
}
_NOTED = ("status of 4", "net::ERR_INTERNET_DISCONNECTED", "net::ERR_FAILED")
# What htmx puts on a page while a part of it is asked for, taken out, or put in.
_ON_ITS_WAY = ".htmx-request, .htmx-swapping, .htmx-settling, .htmx-added"
_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
_OF_COLOUR = ["color-contrast", "link-in-text-block"]
_FLAGS = (
    "--no-sandbox --disable-gpu --disable-dev-shm-usage --disable-quic --no-first-run "
    "--disable-background-networking --disable-component-update --disable-sync"
)


# What comes late on a busy machine comes; only what fails waits so long.
expect.set_options(timeout=15_000)


def _chromium() -> str | None:
    """Return the system's browser; Playwright's own download is never used.

    The shell is the same browser without tabs and menus, which cost more than most pages.
    """
    named = os.environ.get("KEPTLINES_CHROMIUM")
    shell = "chromium-headless-shell"
    names = [named] if named else [shell, "chromium", "chromium-browser", "google-chrome"]
    return next((path for name in names if (path := shutil.which(name))), None)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the journeys, and skip them where there is no browser."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.journey)
            item.add_marker(pytest.mark.sockets)
            if not _chromium():
                item.add_marker(pytest.mark.skip(reason="no Chromium on this machine"))


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    """Start the system's Chromium, quiet towards the outside."""
    return {"executable_path": _chromium(), "args": _FLAGS.split()}


@pytest.fixture(params=SCREENS)
def screen(request: pytest.FixtureRequest) -> str:
    """The kind of screen: phone or desk."""
    return str(request.param)


@pytest.fixture
def browser_context_args(screen: str, live_server: LiveServer) -> dict[str, Any]:
    """Give the browser the screen's size; addresses begin at the server's."""
    return {**SCREENS[screen], "base_url": live_server.url, "color_scheme": "light"}


@pytest.fixture
def page(page: Page) -> Iterator[Page]:
    """A page that fails the journey if a script of ours breaks or is refused."""
    said: list[str] = []

    def listen(message: ConsoleMessage) -> None:
        # A refused log-in is answered with 4xx, and a connection that a journey takes away fails:
        # the browser notes both as well.
        if message.type == "error" and not any(one in message.text for one in _NOTED):
            said.append(message.text)

    page.on("console", listen)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.set_default_timeout(15_000)
    yield page
    assert said == []


@pytest.fixture
def open_as(page: Page, live_server: LiveServer) -> OpenAs:
    """Return how to open an address as somebody, without walking through the log-in."""

    def opened(account: Account, address: str) -> None:
        client = Client()
        client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
        cookies = [
            {"name": name, "value": morsel.value, "url": live_server.url}
            for name, morsel in client.cookies.items()
        ]
        page.context.add_cookies(cookies)  # type: ignore[arg-type]
        page.goto(address)

    return opened


def settled(page: Page) -> None:
    """Wait until the page has come whole, and every part of it that was asked for."""
    page.wait_for_load_state()
    expect(page.locator(_ON_ITS_WAY)).to_have_count(0)


def fits(page: Page) -> bool:
    """Whether the page is no wider than the screen."""
    settled(page)
    return bool(page.evaluate("document.documentElement.scrollWidth <= screen.width"))


@cache
def _axe_source() -> str:
    return (Path(__file__).parent / "vendor/axe-core/axe.min.js").read_text(encoding="utf-8")


@pytest.fixture
def axe(page: Page) -> Axe:
    """Return the check that axe finds nothing on the page, light and dark."""

    def check() -> None:
        settled(page)
        found = violations(page, "light"), violations(page, "dark", only=_OF_COLOUR)
        page.emulate_media(color_scheme="light")
        assert found == ([], [])

    return check


def violations(page: Page, theme: Any, only: Sequence[str] = ()) -> list[str]:
    """Return what axe finds wrong in a theme, by all rules of accessibility or the named ones.

    The page must be `settled`.
    """
    page.emulate_media(color_scheme=theme, reduced_motion="reduce")
    rules = list(only) or {"type": "tag", "values": _RULES}
    found = page.evaluate(_RUN, rules)
    if found is None:
        page.evaluate(_axe_source())
        found = page.evaluate(_RUN, rules)
    return [
        f"{rule['id']}: {rule['help']}: {[node['html'] for node in rule['nodes']]}"
        for rule in found
    ]


# Nothing where axe is not on the page yet. Scrolled half under the head of the page, a button is
# too small to tap, which is no fault. All that axe finds in order is a hundred times as long; it
# stays in the browser.
_RUN = """async rules => {
    if (!("axe" in window)) return null;
    window.scrollTo(0, 0);
    const how = {runOnly: rules, resultTypes: ["violations"]};
    return (await axe.run(document, how)).violations;
}"""
