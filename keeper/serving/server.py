"""The web server of `manage.py start`: one process, eight threads, with TLS on a network."""

import errno
import logging
import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from cheroot import wsgi
from cheroot.server import HTTPConnection
from cheroot.ssl.builtin import BuiltinSSLAdapter
from cheroot.workers.threadpool import _SHUTDOWNREQUEST  # type: ignore[attr-defined]

from keeper.serving.tls import Files

THREADS = 8
SHUTDOWN = 5  # seconds that requests under way may take when the book is stopped
LARGEST_BODY = 64 * 1024 * 1024  # a handful of photos from a phone
_HANDSHAKE = 0x16  # the first byte of every TLS connection

log = logging.getLogger(__name__)
Application = Callable[..., Any]


class PortTaken(Exception):
    """Something else listens on the port."""


def prepare(application: Application, *, host: str, port: int, tls: Files | None) -> wsgi.Server:
    """Return a server that holds its port already; raise PortTaken if it cannot."""
    server = wsgi.Server(
        (host, port), application, numthreads=THREADS, max=THREADS, shutdown_timeout=SHUTDOWN
    )
    server.max_request_body_size = LARGEST_BODY
    server.error_log = _log  # type: ignore[method-assign, assignment]
    if tls:
        server.ssl_adapter = _PatientAdapter(str(tls.chain), str(tls.key))
        server.ConnectionClass = _TlsConnection
    try:
        server.prepare()
    except OSError as error:
        # Busy, or not for ordinary accounts (below 1024): to the keeper it is one and the same.
        raise PortTaken(str(error)) from error
    return server


@contextmanager
def running(server: wsgi.Server) -> Iterator[None]:
    """End the server's threads with the block, which Ctrl+C ends quietly."""
    try:
        yield
    except KeyboardInterrupt:
        pass
    finally:
        _end(server)


def _end(server: wsgi.Server) -> None:
    """Stop the server; a worker that missed the call to end is called again."""
    stopping = threading.Thread(target=server.stop)
    stopping.start()
    stopping.join(timeout=SHUTDOWN + 1)
    while stopping.is_alive():
        server.requests.put(_SHUTDOWNREQUEST)
        stopping.join(timeout=1)


def free_port(host: str, *, after: int) -> int:
    """Return the next port that nothing listens on."""
    for port in range(after + 1, after + 100):
        with socket.socket() as probe:
            if probe.connect_ex((host, port)) == errno.ECONNREFUSED:
                return port
    return after + 1


class _PatientAdapter(BuiltinSSLAdapter):
    """Leave the handshake to the worker thread.

    As shipped, the accepting thread shakes hands itself: one phone that falls asleep in the
    middle would keep everybody else waiting until it times out.
    """

    def wrap(self, sock: socket.socket) -> tuple[ssl.SSLSocket, dict[str, str]]:
        """Return the socket, not yet shaken hands with, and what the request should know."""
        wrapped = self.context.wrap_socket(sock, server_side=True, do_handshake_on_connect=False)
        return wrapped, {"wsgi.url_scheme": "https", "HTTPS": "on"}


class _TlsConnection(HTTPConnection):
    """A connection that shakes hands first, and tells plain HTTP where to go."""

    greeted = False

    def communicate(self) -> bool:
        """Answer one request; return whether the connection stays open."""
        if not self.greeted:
            try:
                first = socket.socket.recv(self.socket, 1, socket.MSG_PEEK)
                if first and first[0] != _HANDSHAKE:
                    self._point_to_https()
                    return False
                self.socket.do_handshake()
            except OSError:
                return False  # a phone that does not trust us yet, or that went away
            self.greeted = True
        return bool(super().communicate())  # type: ignore[no-untyped-call]

    def _point_to_https(self) -> None:
        request = socket.socket.recv(self.socket, 8192).decode("latin-1")
        hosts = [
            line.partition(":")[2].strip()
            for line in request.splitlines()
            if line.lower().startswith("host:")
        ]
        answer = "HTTP/1.1 400 Bad Request\r\nConnection: close\r\nContent-Length: 0\r\n\r\n"
        if hosts and set(hosts[0]) <= _HOST_LETTERS:
            answer = (
                f"HTTP/1.1 307 Temporary Redirect\r\nLocation: https://{hosts[0]}/\r\n"
                "Connection: close\r\nContent-Length: 0\r\n\r\n"
            )
        socket.socket.sendall(self.socket, answer.encode("ascii"))


_HOST_LETTERS = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-:[]")


def _log(message: str = "", level: int = logging.INFO, traceback: bool = False) -> None:
    log.log(level, message, exc_info=traceback)
