"""What a database of the book holds, in figures, whatever version of the program it is of."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

# Answers a query with its rows.
Ask = Callable[[str], list[tuple[Any, ...]]]

# Who is logged in is no part of the book: whoever read it in a copy would be logged in himself.
NOT_COPIED = "keeper_login"


@dataclass(frozen=True)
class Facts:
    """What a database holds: of its epoch and last entry, and how many rows each table has."""

    epoch: str
    last_entry: int | None
    last_entry_at: datetime | None
    rows: dict[str, int]
    migrations: tuple[str, ...]


def facts_of(ask: Ask, tables: Iterable[str]) -> Facts:
    """Return the facts of a database, by its tables."""
    named = sorted(set(tables) - {NOT_COPIED})
    epochs = ask("SELECT epoch FROM keeper_book") if "keeper_book" in named else []
    last: list[tuple[Any, ...]] = []
    if "keeper_daybookentry" in named:
        last = ask("SELECT id, at FROM keeper_daybookentry ORDER BY id DESC LIMIT 1")
    applied: list[tuple[Any, ...]] = []
    if "django_migrations" in named:
        applied = ask("SELECT name FROM django_migrations WHERE app = 'keeper' ORDER BY name")
    return Facts(
        epoch=str(epochs[0][0]) if epochs else "",
        last_entry=int(last[0][0]) if last else None,
        last_entry_at=_moment(last[0][1]) if last else None,
        rows={table: int(ask(f'SELECT count(*) FROM "{table}"')[0][0]) for table in named},
        migrations=tuple(str(name) for (name,) in applied),
    )


def _moment(kept: object) -> datetime:
    """A moment as a database keeps it; SQLite has a text, of the world's time."""
    found = kept if isinstance(kept, datetime) else datetime.fromisoformat(str(kept))
    return found if found.tzinfo else found.replace(tzinfo=UTC)
