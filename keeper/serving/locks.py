"""Locks between processes: SQLite's own, the same on every system, let go by a process that dies.

The file of a lock holds nothing. Nothing else may open it: on POSIX whoever closes a file lets go
of all locks that the same process has on it.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

SERVING, COPYING = "serving.lock", "copying.lock"


class Held(Exception):
    """Another process, or another thread of this one, has the lock."""


@contextmanager
def only_one(path: Path, *, patience: float = 0) -> Iterator[None]:
    """Hold a lock for the block.

    Raises:
        Held: somebody else still has it after so many seconds.
        OSError: there can be no such file.
    """
    try:
        lock = sqlite3.connect(path, timeout=patience, isolation_level=None)
    except sqlite3.OperationalError as error:
        raise OSError(str(error)) from error
    with closing(lock):
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                raise Held from error
            raise OSError(str(error)) from error
        yield
