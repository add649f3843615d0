"""For every run: all cores where that is quicker, and a database copied from a template.

For every test: nothing may reach out over a socket unless the test says so.
"""

import socket
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NoReturn

import pytest
from _pytest import runner

from tests import interpreter, workers

if TYPE_CHECKING:
    from django.test import Client
    from pytest_django import DjangoDbBlocker

    from keeper.models import Account


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config: pytest.Config) -> None:
    """Use all cores where that is quicker."""
    workers.share_out(config)


def pytest_configure(config: pytest.Config) -> None:
    """Compile the engine's loops before the workers start."""
    workers.compile_ahead(config)


@pytest.hookimpl(trylast=True)  # after whoever shuffles
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Let the workers begin with what takes longest."""
    workers.longest_first(config, items)


def pytest_collection_finish() -> None:
    """Spare the interpreter what it would do again and again."""
    interpreter.leave_alone_what_is_there()


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool:
    """Run a test as pytest does, with room for its frames."""
    interpreter.with_room(runner.pytest_runtest_protocol, item, nextitem)
    return True


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Spare a run without property tests a second: Hypothesis would load to sum up nothing."""
    plugins = session.config.pluginmanager
    loaded = "hypothesis" in sys.modules or plugins.hasplugin("dsession")
    if not loaded and plugins.hasplugin("hypothesispytest"):
        plugins.unregister(name="hypothesispytest")


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


# What follows imports late, so that `genetics` is tested without Django where there is none.


@pytest.fixture(scope="session")
def django_db_setup(
    request: pytest.FixtureRequest,
    django_test_environment: None,
    django_db_blocker: "DjangoDbBlocker",
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[None]:
    """Give this process a database of its own, copied from the migrated template."""
    from tests import database

    config = request.config
    kept = getattr(config, "cache", None)  # none where pytest was told to keep nothing
    folder = kept.mkdir("book") if kept else tmp_path_factory.mktemp("book")
    worker = str(getattr(config, "workerinput", {}).get("workerid", ""))
    with django_db_blocker.unblock():
        before = database.lend(worker, cache=folder, anew=bool(config.getoption("create_db")))
    yield
    with django_db_blocker.unblock():
        database.take_back(before)


# The cast.


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
