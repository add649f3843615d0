"""For every test: nothing may reach out over a socket unless the test says so."""

import socket
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NoReturn

import pytest

if TYPE_CHECKING:
    from django.test import Client

    from keeper.models import Account


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


# The cast. Imported late, so that `genetics` is tested without Django where there is none.


@pytest.fixture
def owner(db: None) -> "Account":
    """The owner of the book, Mara."""
    from tests.factories import AccountFactory

    return AccountFactory.create(name="Mara", role="owner")


@pytest.fixture
def helper(db: None) -> "Account":
    """A helper, Tobin."""
    from tests.factories import AccountFactory

    return AccountFactory.create(name="Tobin")


@pytest.fixture
def owner_client(owner: "Account") -> "Client":
    """A browser in which the owner is logged in."""
    return _logged_in(owner)


@pytest.fixture
def helper_client(helper: "Account") -> "Client":
    """A browser in which the helper is logged in."""
    return _logged_in(helper)


def _logged_in(account: "Account") -> "Client":
    from django.test import Client

    client = Client()
    client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
    return client
