"""What the journeys rest on: a check waits for a page, or a part of one, that is on its way."""

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.conftest import Axe, fits, settled

_HEAD = (
    "<!doctype html><html lang='en'><meta name='viewport' content='width=device-width'>"
    "<title>Slow</title><main><h1>Slow</h1>"
)


class _Slow(BaseHTTPRequestHandler):
    """Answers at once that there is a page, and sends it half a second later."""

    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.send_header("X-Content-Type-Options", "nosniff")
        self.end_headers()
        self.wfile.flush()
        if self.path == "/slow":
            threading.Event().wait(0.5)
        self.wfile.write(f"{_HEAD}<p><a href='/slow'>Go on</a> from {self.path}</p>".encode())

    def log_message(self, *_: object) -> None:
        """Say nothing."""


@pytest.fixture
def slow() -> Iterator[str]:
    """The address of a server whose second page is slow."""
    with ThreadingHTTPServer(("127.0.0.1", 0), _Slow) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_address[1]}/"
        server.shutdown()


def test_axe_waits_for_a_page_that_has_only_begun_to_come(page: Page, slow: str, axe: Axe) -> None:
    page.goto(slow)
    page.get_by_role("link", name="Go on").click()
    assert page.evaluate("document.documentElement") is None
    axe()
    assert page.get_by_text("from /slow").count() == 1


def test_a_page_that_has_only_begun_to_come_is_measured_whole(page: Page, slow: str) -> None:
    page.goto(slow)
    page.get_by_role("link", name="Go on").click()
    assert fits(page)


@pytest.mark.parametrize("mark", ["request", "swapping", "settling", "added"])
def test_a_part_on_its_way_is_waited_for(page: Page, mark: str) -> None:
    page.set_content(f"{_HEAD}<p class='htmx-{mark}'>old</p>")
    page.evaluate(
        """() => setTimeout(() => {
            document.querySelector("p").outerHTML = "<p>new</p>";
        }, 300)"""
    )
    settled(page)
    assert page.locator("p").inner_text() == "new"


def test_axe_finds_what_came_late(page: Page, axe: Axe) -> None:
    page.set_content(f"{_HEAD}<p class='htmx-request'>old</p>")
    page.evaluate(
        """() => setTimeout(() => {
            document.querySelector("p").outerHTML = "<img src='data:,'>";
        }, 300)"""
    )
    with pytest.raises(AssertionError, match="image-alt"):
        axe()
    expect(page.locator("img")).to_have_count(1)
