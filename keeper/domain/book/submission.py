"""What a form sends along with what was typed: a one-time token, and what it was made from.

The token makes sure that one form is written once, however often it is sent: it stands in the entry
that the form made, where the database keeps it unique. It never expires; the entry keeps it, and
whoever sends the form again, after a new log-in too, is led to that entry. It is 128 random bits,
made by the server with the form, or by a browser that works without one. Behind it stands the
epoch of the book that the form was made from (`epoch`).

The versions say which save of each record the form showed. What was saved since by others is kept
(`merging`), and never overwritten unseen.

A request holds one submission; `writing` finds it by `current()`, so that no function between the
page and the book has to hand it on.
"""

import hashlib
import re
import secrets
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from urllib.parse import parse_qsl, urlencode

from keeper.domain.backups import epoch
from keeper.domain.backups.epoch import BookRestored
from keeper.domain.book.versions import Held, Version, read_versions
from keeper.models import DaybookEntry

# The names of the fields, and of the buttons that insist and that take what was offered.
TOKEN, MADE_FROM, INSIST, INSTEAD = "once", "made_from", "insist", "instead"
_TOKEN = re.compile(r"([0-9a-f]{32})(?:-([0-9a-f]{16}))?")
_KEY = re.compile(r"[0-9a-f]{16}")


class AlreadyWritten(Exception):
    """The form was written before; `entry` is what it made then."""

    def __init__(self, entry: DaybookEntry) -> None:
        super().__init__(f"written already: {entry}")
        self.entry = entry


@dataclass(frozen=True)
class Question:
    """Something that looks odd, as a sentence that names the fact; it can be insisted on."""

    said: str

    @property
    def key(self) -> str:
        """What stands for it in a form: of the same fact with the same values it is the same."""
        return hashlib.sha256(self.said.encode()).hexdigest()[:16]


@dataclass
class Submission:
    """One form as it was sent.

    Attributes:
        token: stands for the form; empty if it has none.
        epoch: of the book that it was made from; empty if it does not say.
        versions: of the records that it was made from, by what they are versions of.
        overtaken: whether it was refused because others wrote meanwhile; its page then shows them.
        kept: what others changed meanwhile and was kept, in words.
        written: the entry that this request itself wrote.
        insisted: keys of the questions that were answered: it is so.
        asked: what the book asked of it this time.
    """

    token: str = ""
    epoch: str = ""
    versions: dict[Version, Held] = field(default_factory=dict)
    overtaken: bool = False
    kept: list[str] = field(default_factory=list)
    written: int | None = None
    insisted: frozenset[str] = frozenset()
    asked: tuple[Question, ...] = ()


_current: ContextVar[Submission | None] = ContextVar("submission", default=None)


def current() -> Submission | None:
    """Return what the form of this request sent along, or None where no form was sent."""
    return _current.get()


@contextmanager
def submitted(token: str, made_from: str, insisted: Iterable[str] = ()) -> Iterator[Submission]:
    """Hold what a form sent along; what is no token, version or key counts as not sent."""
    known = _TOKEN.fullmatch(token)
    submission = Submission(
        known[1] if known else "",
        (known[2] or "") if known else "",
        dict(read_versions(made_from)),
        insisted=frozenset(key for sent in insisted for key in sent.split() if _KEY.fullmatch(key)),
    )
    held = _current.set(submission)
    try:
        yield submission
    finally:
        _current.reset(held)


def instead(values: Iterable[tuple[str, str]]) -> str:
    """Return what a button sends to put these values into the form, field by field."""
    return urlencode(list(values))


def read_instead(sent: str) -> list[tuple[str, str]]:
    """Return the fields and values that such a button sent."""
    return parse_qsl(sent, keep_blank_values=True, max_num_fields=None) if sent else []


def new_token() -> str:
    """Return a token for a form that is made now, with the book's epoch behind it."""
    return f"{secrets.token_hex(16)}-{epoch.carried()}"


def is_of_another_epoch(submission: Submission) -> bool:
    """Whether the book was restored since a form was made."""
    return bool(submission.token) and epoch.is_of_another(submission.epoch)


def entry_of(submission: Submission) -> DaybookEntry | None:
    """Return the entry that a form made when it was sent before, or None."""
    if not submission.token:
        return None
    found = DaybookEntry.objects.filter(token=submission.token).first()
    return found if found is None or found.pk != submission.written else None


def entries_by_token(tokens: Iterable[str]) -> dict[str, int]:
    """Return which of these tokens made an entry, each with the entry's number."""
    known = [token for token in tokens if _TOKEN.fullmatch(token)]
    rows = DaybookEntry.objects.filter(token__in=known).values_list("token", "pk")
    return {token: pk for token, pk in rows if token}


def is_kept(submission: Submission) -> bool:
    """Whether a form is in the book, by this request or by one before it."""
    return submission.written is not None or entry_of(submission) is not None


def claim() -> str | None:
    """Return the token for an entry that is being begun; to be called after the writer's lock.

    None where no form was sent, and for what a request writes after its first entry.

    Raises:
        AlreadyWritten: the form was written before.
        BookRestored: the book was restored since the form was made.
    """
    submission = _current.get()
    if submission is None or not submission.token:
        return None
    found = DaybookEntry.objects.filter(token=submission.token).first()
    if found is None:
        if is_of_another_epoch(submission):
            raise BookRestored
        return submission.token
    if found.pk == submission.written:
        return None
    raise AlreadyWritten(found)
