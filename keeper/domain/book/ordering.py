"""Orders that are the same in every database: what is not known comes last, both ways round.

Left to themselves SQLite takes an empty field for the smallest, PostgreSQL for the largest.
"""

from django.db.models import F
from django.db.models.expressions import OrderBy


def newest(field: str) -> OrderBy:
    """Order by a field that may be empty, the largest first, the empty ones last."""
    return F(field).desc(nulls_last=True)


def oldest(field: str) -> OrderBy:
    """Order by a field that may be empty, the smallest first, the empty ones last."""
    return F(field).asc(nulls_last=True)


def empty_first(field: str) -> OrderBy:
    """Order by a field whose being empty means the whole, which comes before its parts."""
    return F(field).asc(nulls_first=True)
