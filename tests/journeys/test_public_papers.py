"""Public pages of sheets in a browser: in the book, and as files that check themselves."""

import base64
import re
import threading
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from keeper.domain.sheets.keys import change
from keeper.domain.sheets.writes import issue, withdraw
from keeper.models import Account, Contact, Sheet
from keeper.pages.sheets.folder import write
from tests.journeys.conftest import Axe, OpenAs, fits
from tests.journeys.small_book import small_book

pytestmark = pytest.mark.sockets
Served = Callable[[], str]


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Say nothing of what is asked for."""


@pytest.fixture
def sheet(owner: Account) -> Sheet:
    animal = small_book(owner).animals["R-2"]
    return issue(animal=animal, by=owner, buyer=Contact.objects.create(name="Buyer Osk"))[0]


@pytest.fixture
def folder(tmp_path: Path, sheet: Sheet) -> Path:
    made = tmp_path / "pages"
    write(made, on=date.today(), days=30)
    return made


@pytest.fixture
def host(folder: Path, sheet: Sheet) -> Iterator[str]:
    """Serve the folder as any web host would; the address of the sheet's page."""
    server = ThreadingHTTPServer(("localhost", 0), partial(_Quiet, directory=str(folder)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://localhost:{server.server_port}/papers/{sheet.page_code}/"
    server.shutdown()
    server.server_close()


def file_of(folder: Path, sheet: Sheet) -> Path:
    return folder / "papers" / str(sheet.page_code) / "index.html"


def test_a_stranger_reads_the_page_in_the_book(
    page: Page, live_server: LiveServer, sheet: Sheet, owner: Account, axe: Axe
) -> None:
    page.goto(f"{live_server.url}/papers/{sheet.page_code}/")
    expect(page.get_by_text("The signature holds.")).to_be_visible()
    expect(page.get_by_role("article")).to_contain_text("possible het 66 %")
    expect(page.get_by_text("Osk")).to_have_count(0)
    assert fits(page)
    axe()
    withdraw(sheet=sheet, reason="wrong sex", by=owner)
    page.reload()
    expect(page.get_by_text("Withdrawn on")).to_be_visible()
    expect(page.get_by_text("wrong sex")).to_have_count(0)
    axe()


def test_a_browser_checks_a_static_page(page: Page, host: str, axe: Axe) -> None:
    page.goto(host)
    check = page.get_by_role("status", name="The check")
    expect(check).to_contain_text("The signature holds.")
    expect(check).to_contain_text("sheet 1 of R-2")
    expect(check).to_contain_text("possible het 66 %")
    expect(check).not_to_contain_text("stale")
    assert fits(page)
    axe()


def test_what_came_after_is_told(
    page: Page, host: str, folder: Path, sheet: Sheet, owner: Account
) -> None:
    withdraw(sheet=sheet, reason="wrong sex", by=owner)
    write(folder, on=date.today() - timedelta(days=40), days=30)
    page.goto(host)
    check = page.get_by_role("status", name="The check")
    expect(check).to_contain_text("But this page is stale")
    expect(check).to_contain_text("The seller withdrew it on")
    expect(page.get_by_text("Withdrawn on")).to_be_visible()


def test_what_a_later_key_says_is_told_apart(
    page: Page, host: str, folder: Path, owner: Account
) -> None:
    page.goto(host)
    expect(page.get_by_text("The signature holds.")).to_be_visible()
    expect(page.get_by_text("signed with a later key")).to_have_count(0)
    change(by=owner, why="every few years")
    write(folder, on=date.today(), days=30)
    page.goto(f"{host}?anew")  # within a second the host would say that nothing has changed
    expect(page.get_by_text("The signature holds.")).to_be_visible()
    expect(page.get_by_text("signed with a later key")).to_be_visible()


def test_what_was_altered_does_not_hold(page: Page, host: str, folder: Path, sheet: Sheet) -> None:
    file = file_of(folder, sheet)
    true = file.read_text()
    for name in ("signed", "signature", "state", "state-signature", "key", "state-key"):
        told = re.search(rf' data-{name}="([^"]*)"', true)
        assert told
        raw = bytearray(base64.b64decode(told[1]))
        raw[len(raw) // 2] ^= 1
        other = base64.b64encode(bytes(raw)).decode()
        file.write_text(true.replace(told[0], f' data-{name}="{other}"'))
        page.goto(host)
        check = page.get_by_role("status", name="The check")
        expect(check).to_contain_text("The signature does not hold.")
        expect(check).not_to_contain_text("The signature holds.")


def test_a_page_of_another_sheet_does_not_hold(
    page: Page, host: str, folder: Path, sheet: Sheet
) -> None:
    elsewhere = folder / "papers" / ("A" * 26)
    file_of(folder, sheet).parent.rename(elsewhere)
    page.goto(host.replace(str(sheet.page_code), "A" * 26))
    check = page.get_by_role("status", name="The check")
    expect(check).to_contain_text("These signatures are of another sheet.")


@pytest.mark.parametrize("lacking", ["Ed25519", "WebCrypto"])
def test_a_browser_that_cannot_check_says_so(page: Page, host: str, lacking: str) -> None:
    page.add_init_script(
        "crypto.subtle.importKey = async () => "
        "{ throw new DOMException('unknown kind', 'NotSupportedError'); };"
        if lacking == "Ed25519"
        else "Object.defineProperty(globalThis, 'crypto', { value: undefined });"
    )
    page.goto(host)
    page.wait_for_load_state("networkidle")
    check = page.get_by_role("status", name="The check")
    expect(check).to_contain_text("It could not be checked.")
    expect(check).to_contain_text("That says nothing against the sheet.")
    expect(page.get_by_text("does not hold")).to_have_count(0)
    expect(page.get_by_role("article")).to_contain_text("possible het 66 %")


def test_without_scripts_the_page_says_that_it_was_not_checked(browser: Browser, host: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(host)
    expect(page.get_by_text("It could not be checked.")).to_be_visible()
    expect(page.get_by_text("does not hold")).to_have_count(0)
    expect(page.get_by_text("possible het 66 %").first).to_be_visible()
    context.close()


def test_the_owner_changes_the_key_and_states_one_as_lost(
    page: Page, owner: Account, open_as: OpenAs, sheet: Sheet, axe: Axe
) -> None:
    open_as(owner, f"/sheets/{sheet.pk}/")
    page.get_by_role("link", name="Keys of sheets").click()
    expect(page.get_by_text("signs since")).to_be_visible()
    axe()
    page.get_by_role("link", name="Change the key").click()
    page.get_by_label("Why").fill("every year")
    axe()
    page.get_by_role("button", name="Change it").click()
    expect(page.get_by_text("changed for another (every year)")).to_be_visible()
    page.get_by_role("link", name="It is lost").click()
    page.get_by_role("button", name="State it as lost").click()
    page.get_by_label("Others have it").check()
    page.get_by_label("Why").fill("stolen laptop")
    axe()
    page.get_by_role("button", name="State it as lost").click()
    expect(page.get_by_text("in other hands (stolen laptop)")).to_be_visible()
    axe()
