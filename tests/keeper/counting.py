"""How many queries something costs."""

from collections.abc import Callable

from django.db import connection
from django.test.utils import CaptureQueriesContext


def queries_of(act: Callable[[], object]) -> int:
    """Return the number of queries that `act` runs."""
    with CaptureQueriesContext(connection) as caught:
        act()
    return len(caught)
