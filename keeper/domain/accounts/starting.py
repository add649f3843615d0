"""How a new book begins: empty, or with the example collection.

The collection lives in `keeper/domain/example/replaying.py`, which offers two functions:
`book_is_empty() -> bool` and `load(*, by: Account) -> None`. While a copy of the program does
not bring that file, nothing here offers the example.
"""

from importlib import import_module
from importlib.util import find_spec
from types import ModuleType

from keeper.models import Account

_EXAMPLE = "keeper.domain.example.replaying"


def example_is_shipped() -> bool:
    """Return whether this copy of the program brings the example collection."""
    return find_spec(_EXAMPLE) is not None


def example_may_be_loaded() -> bool:
    """Return whether there is an example collection and the book has nothing in it yet."""
    return example_is_shipped() and bool(_example().book_is_empty())


def load_example(*, by: Account) -> None:
    """Fill an empty book with the example collection, in the name of `by`."""
    _example().load(by=by)


def _example() -> ModuleType:
    # Imported late: the collection is large, and a start from an empty book never needs it.
    return import_module(_EXAMPLE)
