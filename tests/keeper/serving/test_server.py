"""The server ends when it is told to."""

import threading
from typing import cast

import pytest
from cheroot import wsgi

from keeper.serving import server


class _Requests:
    """A queue whose worker missed the first call to end."""

    def __init__(self) -> None:
        self.called_again = threading.Event()

    def put(self, item: object) -> None:
        self.called_again.set()


class _Server:
    def __init__(self) -> None:
        self.requests = _Requests()
        self.ended = False

    def stop(self) -> None:
        self.ended = self.requests.called_again.wait(timeout=30)


def test_a_worker_that_missed_the_call_to_end_is_called_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(server, "SHUTDOWN", 0)  # what is under way has no time to wait for
    stuck = _Server()
    with server.running(cast(wsgi.Server, stuck)):
        pass
    assert stuck.ended
