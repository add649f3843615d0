"""Who is in a book, told and read by raw rows: the book may be of an earlier version."""

import sqlite3
from contextlib import closing
from pathlib import Path

from tests.processes import whole_book


def enter(data: Path, name: str, login: str) -> None:
    with closing(sqlite3.connect(data / "book.sqlite3")) as book, book:
        row = {
            **{"password": "", "name": name, "login_name": login, "is_active": 1},
            **{"role": "owner" if name == "Mara" else "helper", "joined": "2026-11-30"},
            **{"sees_people": 0, "sees_prices": 0, "reach": ""},
        }
        there = {one[1] for one in book.execute("PRAGMA table_info(keeper_account)")}
        columns = [one for one in row if one in there]  # an older book has fewer
        book.execute(
            f"INSERT INTO keeper_account ({', '.join(columns)}) "
            f"VALUES ({', '.join('?' * len(columns))})",
            [row[one] for one in columns],
        )


def names(data: Path) -> list[str]:
    with whole_book(data) as book:
        return [str(name) for (name,) in book.execute("SELECT name FROM keeper_account")]
