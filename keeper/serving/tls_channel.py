"""TLS for Waitress's connections, without a thread that waits for a phone's half of it.

A connection is asked for its first byte. If TLS begins with it the socket is wrapped, and from
then on shakes hands, decrypts and encrypts whenever there is something to do. If not it is plain
HTTP, which is answered with the way to HTTPS.
"""

import socket
import ssl
import time
from collections.abc import Callable
from typing import Any

from waitress.task import WSGITask

from keeper.serving.channel import Channel
from keeper.serving.tls import Files

#: The most that one record of TLS holds.
RECORD = 16 * 1024
_HANDSHAKE = 0x16  # the first byte of every TLS connection
_HOST_LETTERS = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-:[]")


def channel_of(files: Files) -> type[Channel]:
    """Return the kind of connection that shows this certificate."""
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(files.chain, files.key)
    return type("TlsChannel", (_TlsChannel,), {"context": context})


def over_tls_only(application: Callable[..., Any]) -> Callable[..., Any]:
    """Wrap an application so that plain requests are sent to HTTPS, and never reach it."""

    def guarded(environ: dict[str, Any], start_response: Callable[..., Any]) -> Any:
        if environ["wsgi.url_scheme"] == "https":
            return application(environ, start_response)
        host = environ.get("HTTP_HOST", "")
        length = [("Content-Length", "0")]
        if host and set(host) <= _HOST_LETTERS:
            where = [("Location", f"https://{host}/")]
            start_response("307 Temporary Redirect", [*where, *length])
        else:
            start_response("400 Bad Request", length)
        return []

    return guarded


class _PlainTask(WSGITask):  # type: ignore[misc]  # its library has no types
    """A request that came without TLS, and says so; nothing follows it on its connection."""

    def build_response_header(self) -> bytes:
        """Return the head of the answer, which is the last one."""
        self.set_close_on_finish()
        return bytes(super().build_response_header())

    def get_environment(self) -> dict[str, Any]:
        """Return the request's environment."""
        environ: dict[str, Any] = super().get_environment()
        environ["wsgi.url_scheme"] = "http"
        return environ


class _TlsChannel(Channel):
    """A connection that may begin with a handshake."""

    context: ssl.SSLContext
    socket: "socket.socket"
    begun = False
    # Shaking hands may have to wait until the phone takes our part of it.
    has_to_write = False

    def writable(self) -> bool:
        """Whether to be told when the phone can take more."""
        return bool(self.has_to_write or super().writable())

    def handle_write(self) -> None:
        """Give out what is there, or go on shaking hands."""
        if self.has_to_write:
            self.handle_read()
        else:
            super().handle_write()

    def handle_read(self) -> None:
        """Take in what is there."""
        try:
            if not (self.begun or self._begin()):
                return
            self.has_to_write = False
            data = self.recv(self.adj.recv_bytes)
        except ssl.SSLWantReadError:
            return
        except ssl.SSLWantWriteError:
            self.has_to_write = True
            return
        except OSError:
            self.handle_close()  # a phone that does not trust us yet, or that went away
            return
        if data:
            self.last_activity = time.time()
            self.received(data)
        else:
            self.connected = False

    def send(self, data: bytes, do_close: bool = True) -> int:
        """Send what the phone can take; return how much that was."""
        try:
            return int(super().send(data, do_close=do_close))
        except (ssl.SSLWantReadError, ssl.SSLWantWriteError):
            return 0

    def _begin(self) -> bool:
        """Look at the first byte; return whether there is one."""
        try:
            first = self.socket.recv(1, socket.MSG_PEEK)
        except BlockingIOError:
            return False
        if first and first[0] == _HANDSHAKE:
            self.socket = self.context.wrap_socket(
                self.socket, server_side=True, do_handshake_on_connect=False
            )
        elif first:
            self.task_class = _PlainTask
        self.begun = True
        return True
