"""Reading a book as it was at one moment, while others go on writing."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import Any

from django.db import connection, transaction


@contextmanager
def snapshot() -> Iterator[None]:
    """Let everything inside be read as the book is at the first query; nobody waits for it.

    Inside a transaction it is that transaction's view. Nothing may be written inside.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
    else:
        with _not_waiting():
            yield


@contextmanager
def _not_waiting() -> Iterator[None]:
    """A transaction of SQLite that does not take the writer's lock as all others do."""
    # What Django begins transactions with; there is no other way to choose it for one.
    sqlite: Any = connection
    connection.ensure_connection()  # it is known from then on
    usual = sqlite.transaction_mode
    with ExitStack() as stack:
        sqlite.transaction_mode = "DEFERRED"
        try:
            stack.enter_context(transaction.atomic())
        finally:
            sqlite.transaction_mode = usual
        yield
