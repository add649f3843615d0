"""The server: what slow phones cost the others, what plain HTTP is told, and how it ends."""

import datetime as dt
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from http.client import HTTPConnection, HTTPSConnection
from typing import Any

import pytest
from waitress.server import TcpWSGIServer

from keeper.serving import channel, server, tls

pytestmark = pytest.mark.sockets

SLOW = 3 * server.THREADS
# More than any buffer between the server and a phone that does not read.
LARGE = 12 * 1024 * 1024


def application(environ: dict[str, Any], start_response: Any) -> list[bytes]:
    """Answer with what was sent, or with a lot."""
    sent = environ["wsgi.input"].read()
    body = b"x" * LARGE if environ["PATH_INFO"] == "/large" else b"heard " + sent
    start_response("200 OK", [("Content-Length", str(len(body)))])
    return [body]


@contextmanager
def served(files: tls.Files | None = None) -> Iterator[TcpWSGIServer]:
    """Serve the application from a thread until the block ends."""
    web = server.prepare(application, host="127.0.0.1", port=0, tls=files)
    serving = threading.Thread(target=web.run)
    with server.running(web):
        serving.start()
        yield web
        # In the loop's own thread, as Ctrl+C comes. Under its lock: woken by an answer just then,
        # the loop would close the pipe that is about to wake it.
        with web.trigger.lock:
            web.trigger.thunks.append(lambda: server.hang_up(web))
            web.trigger.pull_trigger()
        serving.join(timeout=30)
    assert not serving.is_alive()


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tls.Files:
    return tls.prepare(
        tmp_path_factory.mktemp("certificates"), hosts=[], now=dt.datetime.now(dt.UTC)
    )


@pytest.fixture(params=["plain", "over TLS"])
def certificates(request: pytest.FixtureRequest, files: tls.Files) -> tls.Files | None:
    return files if request.param == "over TLS" else None


def trusting(files: tls.Files) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(files.public))


def connected(web: TcpWSGIServer, files: tls.Files | None) -> socket.socket:
    """Return a connection that has shaken hands."""
    connection = socket.create_connection(("127.0.0.1", server.port_of(web)), timeout=20)
    if files is None:
        return connection
    return trusting(files).wrap_socket(connection, server_hostname="127.0.0.1")


def asked(
    web: TcpWSGIServer, files: tls.Files | None, address: str = "/", body: bytes | None = None
) -> bytes:
    """Return what somebody with a good connection gets."""
    port = server.port_of(web)
    connection = (
        HTTPSConnection("127.0.0.1", port, timeout=20, context=trusting(files))
        if files
        else HTTPConnection("127.0.0.1", port, timeout=20)
    )
    connection.request("POST" if body else "GET", address, body)
    told = connection.getresponse().read()
    connection.close()
    return told


HALF_A_HEADER = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: key"
HALF_A_BODY = b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 1000\r\n\r\nhalf of it"
UNREAD = b"GET /large HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


@pytest.mark.parametrize("begun", [HALF_A_HEADER, HALF_A_BODY, UNREAD])
def test_server_answers_while_more_phones_than_threads_are_slow(
    begun: bytes, certificates: tls.Files | None
) -> None:
    with ExitStack() as closing, served(certificates) as web:
        for _ in range(SLOW):
            closing.enter_context(connected(web, certificates)).sendall(begun)
        assert [asked(web, certificates) for _ in range(3)] == [b"heard "] * 3


def test_server_is_not_held_up_by_phones_that_never_shake_hands(files: tls.Files) -> None:
    with ExitStack() as closing, served(files) as web:
        for _ in range(SLOW):
            closing.enter_context(connected(web, None)).sendall(b"\x16\x03\x01")
        assert asked(web, files) == b"heard "


def test_server_hears_a_slow_request_to_its_end(certificates: tls.Files | None) -> None:
    with served(certificates) as web, connected(web, certificates) as slow:
        request = b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 3\r\n\r\nend"
        for n in range(len(request)):
            slow.sendall(request[n : n + 1])
        answer = b""
        while not answer.endswith(b"heard end"):
            answer += slow.recv(1000)
    assert answer.startswith(b"HTTP/1.1 200 OK\r\n")


@pytest.mark.parametrize("begun", [HALF_A_HEADER, HALF_A_BODY])
def test_server_hangs_up_on_a_request_that_never_ends(
    begun: bytes, certificates: tls.Files | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    with served(certificates) as web, connected(web, certificates) as slow:
        slow.sendall(begun)
        assert asked(web, certificates) == b"heard "  # by now the first half has arrived
        monkeypatch.setattr(web.channel_class, "patience", -1)
        slow.sendall(b"x")
        assert slow.recv(1000) == b""


def test_server_counts_connections_of_one_address(
    certificates: tls.Files | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(channel, "FROM_ONE_ADDRESS", 2)
    monkeypatch.setattr(channel, "_limited", lambda addr: True)
    with ExitStack() as closing, served(certificates) as web:
        for _ in range(2):
            kept = closing.enter_context(connected(web, certificates))
            kept.sendall(HALF_A_BODY)
        third = closing.enter_context(connected(web, None))
        assert third.recv(1) == b""
        kept.sendall(b"x" * 990)
        assert b"200 OK" in kept.recv(1000)


@pytest.mark.parametrize(
    ("address", "limited"),
    [("192.168.7.66", True), ("127.0.0.1", False), ("::1", False), ("", False)],
)
def test_a_proxy_on_this_machine_may_open_as_many_as_it_needs(address: str, limited: bool) -> None:
    assert channel._limited((address, 1)) is limited


def test_server_takes_and_gives_large_bodies_whole(certificates: tls.Files | None) -> None:
    sent = bytes(range(256)) * 20_000
    with served(certificates) as web:
        assert asked(web, certificates, "/", sent) == b"heard " + sent
        assert asked(web, certificates, "/large") == b"x" * LARGE


def test_server_answers_several_requests_on_one_connection(certificates: tls.Files | None) -> None:
    two = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 2
    with served(certificates) as web, connected(web, certificates) as connection:
        connection.sendall(two)
        answer = b""
        while answer.count(b"heard ") < 2:
            answer += connection.recv(1000)
    assert answer.count(b"HTTP/1.1 200 OK") == 2


@pytest.mark.parametrize(
    ("host", "status", "location"),
    [
        ("book.local:8000", 307, "https://book.local:8000/"),
        ("<book>", 400, None),
    ],
)
def test_server_points_plain_requests_to_https(
    files: tls.Files, host: str, status: int, location: str | None
) -> None:
    with served(files) as web:
        connection = HTTPConnection("127.0.0.1", server.port_of(web), timeout=20)
        connection.request("GET", "/animals/", headers={"Host": host})
        answer = connection.getresponse()
        told = (answer.status, answer.headers["Location"], answer.read())
        connection.close()
    assert told == (status, location, b"")


def test_server_lives_on_after_a_phone_that_does_not_trust_it(files: tls.Files) -> None:
    with served(files) as web:
        with pytest.raises(ssl.SSLCertVerificationError):
            ssl.create_default_context().wrap_socket(
                connected(web, None), server_hostname="127.0.0.1"
            )
        assert asked(web, files) == b"heard "


def test_server_refuses_a_port_that_is_taken() -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        with pytest.raises(server.PortTaken, match="in use"):
            server.prepare(application, host="127.0.0.1", port=other.getsockname()[1], tls=None)


def test_server_ends_quietly_and_leaves_its_port() -> None:
    web = server.prepare(application, host="127.0.0.1", port=0, tls=None)
    port = server.port_of(web)
    with server.running(web):
        _press_ctrl_c()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", port))
    assert not web.task_dispatcher.threads


def _press_ctrl_c() -> None:
    raise KeyboardInterrupt
