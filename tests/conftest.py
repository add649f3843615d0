"""For every test: nothing may reach out over a socket unless the test says so."""

import socket
from collections.abc import Iterator
from typing import Any, NoReturn

import pytest


class SocketUsedError(RuntimeError):
    """A test opened a connection without the mark that allows it."""


@pytest.fixture(autouse=True)
def _no_sockets(request: pytest.FixtureRequest) -> Iterator[None]:
    """Refuse connections and name look-ups, except under `@pytest.mark.sockets`."""
    if request.node.get_closest_marker("sockets"):
        yield
        return

    def refuse(*arguments: Any, **_: Any) -> NoReturn:
        raise SocketUsedError(f"unexpected use of the network: {arguments[-1]!r}")

    with pytest.MonkeyPatch.context() as patch:
        for name in ("connect", "connect_ex", "sendto"):
            patch.setattr(socket.socket, name, refuse)
        patch.setattr(socket, "getaddrinfo", refuse)
        yield
