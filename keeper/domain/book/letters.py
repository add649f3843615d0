"""Looking for typed letters in codes and names, however they are capitalised.

Asked so that the database answers in its own code. Both have our `lower` of every code in an index
already; `LIKE` without case would ask Python again for each row of SQLite.
"""

from django.db.models import Q, Value
from django.db.models.functions import Lower, StrIndex
from django.db.models.lookups import Exact, GreaterThan


def has_letters(field: str, text: str, *, often_empty: bool = False) -> Q:
    """Return the condition that a field has this in it somewhere.

    `often_empty` asks of each row first whether there is anything to look in.
    """
    found = Q(GreaterThan(StrIndex(Lower(field), Value(text.lower())), 0))
    return ~Q(**{field: ""}) & found if often_empty else found


def begins_with(field: str, text: str) -> Q:
    """Return the condition that a field begins with this."""
    return Q(Exact(StrIndex(Lower(field), Value(text.lower())), 1))
