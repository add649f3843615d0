"""Which life of the book this is: its epoch, renewed by every restore.

A form carries the epoch of the book that it was made from. After a restore what it shows may be
another animal under the same number, so it is not written at all, and its page says why.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from keeper.models import Book

# Of an epoch so much stands in a form: enough to tell two lives of one book.
_CARRIED = 16
# Stands for the epoch of a database whose row was taken out.
_NONE = "0" * 32
_read: ContextVar[list[str] | None] = ContextVar("epoch", default=None)


class BookRestored(Exception):
    """A form was made before the book was restored; nothing of it is written."""


def book() -> Book:
    """Return the book's one row; of a database without it one that is not kept: pages only read."""
    return Book.objects.filter(pk=1).first() or Book(epoch=_NONE)


def carried() -> str:
    """Return what a form carries of the epoch; read once a request."""
    kept = _read.get()
    if kept is None:
        return book().epoch[:_CARRIED]
    if not kept:
        kept.append(book().epoch[:_CARRIED])
    return kept[0]


@contextmanager
def read_once() -> Iterator[None]:
    """Read the epoch at most once in the block, for all forms of a page."""
    held = _read.set([])
    try:
        yield
    finally:
        _read.reset(held)


def is_of_another(sent: str) -> bool:
    """Whether a form is from another life of the book than the present one.

    A form that carries no epoch is of an unknown one; it counts while there has been only one.
    """
    now = book()
    return sent != now.epoch[:_CARRIED] if sent else now.restored_at is not None
