"""Work beside the pages: one piece at a time, with rests, and told when it fails."""

import logging
import threading
from collections.abc import Callable
from time import monotonic
from typing import Any

import pytest
from django.core.cache import cache
from django.utils import timezone

from keeper import models as m
from keeper.domain.diversity import beside, keeping
from keeper.domain.diversity.keeping import Asked, shown
from tests.keeper.books import Book

NAME = "figures of a test"


class Connection:
    """Counts how often it was closed."""

    closed = 0

    def close(self) -> None:
        self.closed += 1


@pytest.fixture(autouse=True)
def closing(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> Connection:
    """A process in which nothing was done beside its pages yet, and no database is touched."""
    monkeypatch.setattr(beside, "_rest_until", 0.0)
    monkeypatch.setattr(beside, "_failed_until", {})
    found = Connection()
    if request.node.get_closest_marker("django_db") is None:
        monkeypatch.setattr(beside, "connection", found)
    return found


def done(work: Callable[[], object], *, urgent: bool = False, name: str = NAME) -> None:
    beside.begin(name, work, urgent=urgent)
    join(name)


def join(name: str) -> None:
    for thread in threading.enumerate():
        if thread.name == name:
            thread.join(60)


def test_one_at_a_time() -> None:
    there, goes_on, did = threading.Event(), threading.Event(), []

    def work() -> None:
        there.set()
        assert goes_on.wait(60)
        did.append("first")

    beside.begin(NAME, work, urgent=False)
    assert there.wait(60)
    beside.begin(NAME, lambda: did.append("same"), urgent=True)
    done(lambda: did.append("other"), urgent=True, name="another")
    goes_on.set()
    join(NAME)
    assert did == ["first"]
    done(lambda: did.append("same"), urgent=True)
    assert did == ["first", "same"]


def test_rests_after_work_unless_somebody_has_nothing(
    monkeypatch: pytest.MonkeyPatch, closing: Connection
) -> None:
    did: list[str] = []
    clock = [100.0]
    monkeypatch.setattr(beside, "monotonic", lambda: clock[0])

    def work() -> None:
        clock[0] += 3
        did.append("worked")

    done(work)
    assert closing.closed == 1
    clock[0] = 103 + 29.9
    done(work)
    assert did == ["worked"]
    done(work, urgent=True)
    assert did == ["worked", "worked"]
    clock[0] += 30.1
    done(work)
    assert len(did) == 3


def test_failure_is_told_and_not_tried_at_once(
    caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch, closing: Connection
) -> None:
    did: list[str] = []

    def fail() -> None:
        did.append("tried")
        raise ZeroDivisionError

    with caplog.at_level(logging.ERROR):
        done(fail)
    assert "figures of a test could not be worked out" in caplog.text
    assert beside.has_failed(NAME) and not beside.has_failed("another")
    done(fail, urgent=True)
    assert did == ["tried"] and closing.closed == 1
    later = monotonic() + 61
    monkeypatch.setattr(beside, "monotonic", lambda: later)
    done(lambda: did.append("again"))
    assert did == ["tried", "again"] and not beside.has_failed(NAME)


def test_without_a_thread_it_has_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: Any, **__: Any) -> threading.Thread:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading, "Thread", none)
    beside.begin(NAME, lambda: None, urgent=True)
    assert beside.has_failed(NAME) and not beside._under_way


@pytest.mark.sockets
@pytest.mark.django_db(transaction=True)
def test_figures_come_from_a_thread(
    owner: m.Account, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.WORK_IN_BACKGROUND = True
    monkeypatch.setattr(keeping, "WAITED_FOR_ANIMALS", 0)
    cache.clear()
    book = Book(owner, name="python")
    book.founder("F1", "female")
    asked = Asked(book.species, None, timezone.localdate())
    first = shown(asked)
    assert (first.figures, first.coming) == (None, True)
    join(asked.name)
    found = shown(asked, first.entry)
    assert found.figures is not None and found.figures.found.living == 1
    assert (found.coming, found.at) == (False, None)
