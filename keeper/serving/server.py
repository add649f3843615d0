"""The web server of `manage.py start`: one process, with TLS on a network.

Waitress, because of phones with a poor connection. One thread of it takes requests in and gives
answers out, as fast or as slowly as each phone can; one of the eight others is asked only when a
request is there to its last byte, and is free again as soon as it has answered.

Measured with twenty phones that sent a byte every half second, beside four people who read and
wrote (`tests.benchmarks.book --users 4 --slow 20`): nobody noticed. Cheroot, which served before,
gave a thread to each connection that had begun to send: its eight were soon taken, and from then on
nobody got a page within 20 seconds; its time limit is for each wait, and a byte outlasts it.
Granian keeps slow headers from its threads but not slow bodies: twenty half uploads stopped it. It
also serves from processes of its own, where the port could not be held before the book is brought
up to date, nor plain HTTP be pointed to HTTPS on the same port.

Waitress speaks no TLS; `keeper.serving.tls_channel` adds it where bytes are received and sent.
"""

import errno
import logging
import socket
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from waitress import wasyncore
from waitress.server import TcpWSGIServer, create_server

from keeper.serving import tls_channel
from keeper.serving.channel import Channel
from keeper.serving.tls import Files

THREADS = 8
SHUTDOWN = 5  # seconds that requests under way may take when the book is stopped
LARGEST_BODY = 64 * 1024 * 1024  # a handful of photos from a phone
LARGEST_HEADER = 64 * 1024
# Connections at once. A silent one is closed after a while, a trickling one by `channel`.
CONNECTIONS = 400
SILENCE = 60  # seconds
# Seconds that a thread which reckons may keep the others waiting. A page asks the database a dozen
# times and waits for its turn after each; with 5 ms, as shipped, Today took half as long again.
TURN = 0.0005

Application = Callable[..., Any]

# A busy moment is no news to a keeper.
logging.getLogger("waitress.queue").setLevel(logging.ERROR)


class PortTaken(Exception):
    """Something else listens on the port."""


def prepare(application: Application, *, host: str, port: int, tls: Files | None) -> TcpWSGIServer:
    """Return a server that holds its port already; raise PortTaken if it cannot."""
    try:
        holding = _listening(host, port)
    except OSError as error:
        # Busy, or not for ordinary accounts (below 1024): to the keeper it is one and the same.
        raise PortTaken(str(error)) from error
    server: TcpWSGIServer = create_server(
        tls_channel.over_tls_only(application) if tls else application,
        sockets=[holding],
        threads=THREADS,
        ident="",
        url_scheme="https" if tls else "http",
        max_request_body_size=LARGEST_BODY,
        max_request_header_size=LARGEST_HEADER,
        connection_limit=CONNECTIONS,
        channel_timeout=SILENCE,
        cleanup_interval=5,
        # A whole record of TLS at once: what stayed behind in it would wake nobody.
        recv_bytes=tls_channel.RECORD,
        asyncore_use_poll=True,
    )
    server.channel_class = tls_channel.channel_of(tls) if tls else Channel
    return server


def _listening(host: str, port: int) -> socket.socket:
    """Return a socket on the port, which no other program may share."""
    holding = socket.socket()
    try:
        if sys.platform == "win32":
            holding.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            # A port that was left a moment ago can be taken at once.
            holding.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        holding.bind((host, port))
        holding.listen()
    except OSError:
        holding.close()
        raise
    return holding


@contextmanager
def running(server: TcpWSGIServer) -> Iterator[None]:
    """End the server's threads with the block, which Ctrl+C ends quietly."""
    as_shipped = sys.getswitchinterval()
    sys.setswitchinterval(TURN)
    try:
        yield
    except KeyboardInterrupt:
        pass
    finally:
        if not server.task_dispatcher.stop_count:  # else it was told to stop, and waited
            server.task_dispatcher.shutdown(timeout=SHUTDOWN)
        hang_up(server)
        sys.setswitchinterval(as_shipped)


def hang_up(server: TcpWSGIServer) -> None:
    """Close every connection, and leave the port; the loop that serves them ends by that."""
    for channel in list(server.active_channels.values()):
        channel.handle_close()
    wasyncore.close_all(server._map, ignore_all=True)


def port_of(server: TcpWSGIServer) -> int:
    """Return the port that a server holds."""
    return int(server.effective_port)


def free_port(host: str, *, after: int) -> int:
    """Return the next port that nothing listens on."""
    for port in range(after + 1, after + 100):
        with socket.socket() as probe:
            if probe.connect_ex((host, port)) == errno.ECONNREFUSED:
                return port
    return after + 1
