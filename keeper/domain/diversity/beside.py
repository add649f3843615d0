"""Work beside the pages of this process: one piece at a time, and never much of it.

It takes the processor from whoever reads and writes meanwhile. So after each piece there is a rest
ten times as long as the piece took, unless somebody waits who has nothing to look at. What is not
begun now is asked for again by the page that waits for it; a page that was left asks no more.
"""

import logging
import threading
from collections.abc import Callable
from time import monotonic

from django.db import connection

_log = logging.getLogger(__name__)
# A rest is so many times what the work took; after a failure, at least so many seconds.
_REST = 10
_AFTER_FAILURE = 60.0

_lock = threading.Lock()
_under_way: set[str] = set()
_failed_until: dict[str, float] = {}
_rest_until = 0.0


def begin(name: str, work: Callable[[], object], *, urgent: bool) -> None:
    """Begin a piece of work, unless one is under way or it is time to rest, `urgent` or not.

    What failed a moment ago is not begun either.
    """
    with _lock:
        now = monotonic()
        if _under_way or has_failed(name) or (now < _rest_until and not urgent):
            return
        _under_way.add(name)
    try:
        threading.Thread(target=_run, args=(name, work), name=name, daemon=True).start()
    except RuntimeError:  # the system gives no more threads
        _log.exception("%s could not be begun", name)
        _end(name, 0.0, failed=True)


def has_failed(name: str) -> bool:
    """Whether this failed a moment ago; it is tried again after a minute or more."""
    return monotonic() < _failed_until.get(name, 0.0)


def _run(name: str, work: Callable[[], object]) -> None:
    begun, failed = monotonic(), True
    try:
        work()
        failed = False
    except Exception:  # noqa: BLE001  (whatever it was, it is told)
        _log.exception("%s could not be worked out", name)
    finally:
        try:
            connection.close()
        finally:
            _end(name, monotonic() - begun, failed=failed)


def _end(name: str, took: float, *, failed: bool) -> None:
    global _rest_until
    with _lock:
        _rest_until = monotonic() + _REST * took
        _failed_until.pop(name, None)
        if failed:
            _failed_until[name] = monotonic() + max(_AFTER_FAILURE, _REST * took)
        _under_way.discard(name)
