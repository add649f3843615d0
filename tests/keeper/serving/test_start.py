"""`manage.py start`, for real: a process of its own, asked over sockets."""

import re
import shutil
import socket
import sqlite3
import ssl
import stat
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPSConnection
from pathlib import Path

import pytest
from django.core.management import call_command

from keeper.domain.accounts import starting
from keeper.serving import addresses
from tests.processes import Started, free_port, manage, started

pytestmark = pytest.mark.sockets

on_a_network = pytest.mark.skipif(
    not addresses.network_addresses(), reason="this machine is on no network"
)


@dataclass(frozen=True)
class Running:
    """A book that is being served, and its data folder."""

    book: Started
    data: Path


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A new book on this machine only, started once: a start takes seconds."""
    data = tmp_path_factory.mktemp("here")
    with started(data=data) as book:
        yield Running(book, data)


@pytest.fixture(scope="module")
def lan(here: Running, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A copy of that book on the network, started once: it is still without an owner."""
    data = shutil.copytree(here.data, tmp_path_factory.mktemp("lan") / "data")
    with started("--lan", data=data) as book:
        yield Running(book, data)


def get(port: int, address: str) -> tuple[int, str, str]:
    connection = HTTPConnection("127.0.0.1", port, timeout=20)
    connection.request("GET", address)
    response = connection.getresponse()
    body = response.read().decode()
    connection.close()
    return response.status, response.headers.get("Location", ""), body


def test_start_serves_a_new_book_and_prints_the_way_in(here: Running) -> None:
    port = here.book.port
    assert re.fullmatch(
        r"Getting ready; the first time this takes about a minute\.\n"
        rf"Keptlines is at http://127\.0\.0\.1:{port}/\n"
        r"First visit: make the owner's account with the code [2-9A-Z]{4}-[2-9A-Z]{4}\n"
        r"Stop it with Ctrl\+C\.\n",
        here.book.printed,
    )
    assert get(port, "/")[:2] == (302, "/set-up/")
    status, _, page = get(port, "/set-up/")
    assert (status, "Set up this book" in page) == (200, True)
    sheet = re.findall(r'href="(/static/css/tokens\.css\?v=\w+)"', page)[0]
    assert "--paper" in get(port, sheet)[2]
    assert stat.S_IMODE((here.data / "set-up-code").stat().st_mode) == 0o600


def test_start_listens_on_this_machine_only(here: Running) -> None:
    for address in addresses.network_addresses():
        with socket.socket() as probe:
            assert probe.connect_ex((address, here.book.port)) != 0


def test_start_says_when_the_port_is_taken(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        result = manage("start", "--no-browser", "--port", str(port), data=tmp_path)
    assert (result.returncode, result.stdout) == (1, "")
    assert re.fullmatch(
        rf"Keptlines: port {port} is taken, perhaps by Keptlines itself: stop what uses it, "
        r"or start with `--port \d+`\.\n",
        result.stderr,
    )


def test_start_says_when_the_database_does_not_answer(tmp_path: Path) -> None:
    nowhere = f"postgres://keeper@127.0.0.1:{free_port()}/book"
    result = manage(
        *("start", "--no-browser", "--port", str(free_port())), data=tmp_path, DATABASE_URL=nowhere
    )
    assert (result.returncode, result.stdout) == (1, "")
    assert result.stderr.startswith("Keptlines: the database cannot be used: connection failed")
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize("port", ["99999", "-1", "http"])
def test_start_says_what_a_port_is(tmp_path: Path, port: str) -> None:
    result = manage("start", "--no-browser", f"--port={port}", data=tmp_path)
    assert result.returncode != 0
    assert f"{port} is no port; use a number from 1024 to 65535" in result.stderr
    assert "Traceback" not in result.stderr


def test_start_takes_no_empty_file_for_a_new_book(tmp_path: Path) -> None:
    (tmp_path / "book.sqlite3").write_bytes(b"")
    result = manage("start", "--no-browser", "--port", str(free_port()), data=tmp_path)
    assert (result.returncode, result.stdout) == (1, "")
    assert "is empty: it may have been cut short. Put a copy of the book in its" in result.stderr
    assert (tmp_path / "book.sqlite3").stat().st_size == 0


def test_start_leaves_a_book_of_a_newer_version_alone(here: Running, tmp_path: Path) -> None:
    data = shutil.copytree(here.data, tmp_path / "data")
    with sqlite3.connect(data / "book.sqlite3") as book:
        book.execute(
            "INSERT INTO django_migrations (app, name, applied) "
            "VALUES ('keeper', '9999_later', '2030-01-01')"
        )
    book.close()
    result = manage("start", "--no-browser", "--port", str(free_port()), data=data)
    assert result.returncode == 1
    assert "a newer version of Keptlines has written this book (it knows 9999_later)" in (
        result.stderr
    )
    assert "Traceback" not in result.stderr


def test_start_with_example_refuses_where_none_is_shipped(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(starting, "example_is_shipped", lambda: False)
    with pytest.raises(SystemExit) as refused:
        call_command("start", "--example", "--no-browser")
    assert refused.value.code == (
        "Keptlines: this copy brings no example collection; start without --example."
    )


def trusting(data: Path) -> ssl.SSLContext:
    """Return how a phone sees it that trusts the book's certificate and no other."""
    return ssl.create_default_context(
        cafile=str(data / "certificates" / "public" / "keptlines.crt")
    )


def get_over_tls(book: Started, data: Path, host: str, address: str) -> tuple[int, str, str]:
    connection = HTTPSConnection(host, book.port, timeout=20, context=trusting(data))
    connection.request("GET", address)
    response = connection.getresponse()
    body = response.read().decode()
    connection.close()
    return response.status, response.headers.get("Location", ""), body


@on_a_network
def test_start_on_the_network_speaks_tls_with_a_certificate_for_its_address(lan: Running) -> None:
    book, first = lan.book, addresses.network_addresses()[0]
    assert f"Keptlines is at https://{first}:{book.port}/\n" in book.printed
    assert sum(line.count("█") > 3 for line in book.printed.splitlines()) > 10
    assert len(re.findall(r"(?:[0-9A-F]{2}:){31}[0-9A-F]{2}", book.printed)) == 1
    for host in (first, "127.0.0.1", "localhost"):
        assert get_over_tls(book, lan.data, host, "/")[:2] == (302, "/set-up/")
    with pytest.raises(ssl.SSLCertVerificationError):
        HTTPSConnection(first, book.port, timeout=20, context=ssl.create_default_context()).request(
            "GET", "/"
        )
    public = urllib.request.urlopen(
        f"https://127.0.0.1:{book.port}/keptlines.crt", context=trusting(lan.data), timeout=20
    )
    assert public.read().startswith(b"-----BEGIN CERTIFICATE-----")
    assert (public.headers["Content-Type"], public.headers["Cache-Control"]) == (
        "application/x-x509-ca-cert",
        "no-cache",
    )
    folder = lan.data / "certificates"
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in folder.glob("*.key")}
    assert modes == {"authority.key": 0o600, "server.key": 0o600}


@on_a_network
def test_start_on_the_network_sends_plain_requests_to_https(lan: Running) -> None:
    status, location, _ = get(lan.book.port, "/log-in/")
    assert (status, location) == (307, f"https://127.0.0.1:{lan.book.port}/")


@on_a_network
def test_start_on_the_network_is_not_held_up_by_a_silent_phone(lan: Running) -> None:
    silent = [socket.create_connection(("127.0.0.1", lan.book.port)) for _ in range(3)]
    begun = time.monotonic()
    assert get_over_tls(lan.book, lan.data, "127.0.0.1", "/")[0] == 302
    waited = time.monotonic() - begun
    for connection in silent:
        connection.close()
    # The server gives up on a silent connection after ten seconds; nobody may wait for that.
    assert waited < 8


@on_a_network
def test_start_on_the_network_needs_a_log_in_for_every_page(lan: Running, tmp_path: Path) -> None:
    # A second start, on a copy of the new book that has an owner by now.
    data = shutil.copytree(lan.data, tmp_path / "owned")
    made = manage(
        *("shell", "--no-imports", "-c"),
        "from keeper.domain.accounts.writes import create_owner;"
        "create_owner(name='Mara', password='three dry stones')",
        data=data,
    )
    assert made.returncode == 0, made.stderr
    with started("--lan", data=data) as book:
        assert "First visit" not in book.printed
        assert get_over_tls(book, data, "127.0.0.1", "/")[:2] == (302, "/log-in/?next=/")
        page = get_over_tls(book, data, "127.0.0.1", "/log-in/")[2]
        assert 'href="/keptlines.crt"' in page


def test_log_in_page_offers_no_certificate_where_none_is_served(here: Running) -> None:
    with pytest.raises(urllib.error.HTTPError, match="404"):
        urllib.request.urlopen(f"http://127.0.0.1:{here.book.port}/keptlines.crt", timeout=20)
