"""Copies are made and restored by processes that are killed: `python -m tests.load.copies`.

Somebody writes while a copy is made. After each kill the book must be whole and hold every row
that was acknowledged (or, of a restore that went through, those of the copy), every copy with a
good name must open, and the pictures must be those of the book.
"""

import argparse
import json
import random
import secrets
import sqlite3
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from time import perf_counter

from tests.benchmarks.scratch import scratch_book
from tests.processes import ROOT, environment


def main() -> None:
    """Run the rounds, and say what was killed where."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rounds", type=int, default=100)
    asked.add_argument("--animals", type=int, default=300)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--longest", type=float, default=6, help="seconds before a kill")
    options = asked.parse_args()
    with scratch_book() as data:
        _run(data, options.rounds, options.animals, options.longest, random.Random(options.seed))


def _run(data: Path, rounds: int, animals: int, longest: float, draw: random.Random) -> None:
    from keeper.domain.accounts.writes import create_owner
    from keeper.domain.backups import looking, making, pictures
    from tests.keeper.books import Book

    book = Book(create_owner(name="owner", password="a plain long password"))
    for number in range(animals):
        book.founder(f"F-{number}", "female")
    (data / "media").mkdir(exist_ok=True)
    (data / "media" / "life").write_bytes(draw.randbytes(3_000_000))
    begun, came = perf_counter(), Counter[str]()
    first = making.make("by hand")
    assert first.path is not None
    kept = first.path.rename(data / "kept.zip")
    for number in range(rounds):
        restoring = number % 2 == 1
        last = _last(data)
        (data / "media" / "life").write_bytes(b"now")
        arguments = ["restore", str(kept), "--yes"] if restoring else ["back_up"]
        hand = _somebody_writing(data, writing=not restoring)
        with hand as written:
            ended = _killed(data, arguments, draw.uniform(1, longest))
        pictures.settle()
        _whole(data)
        now = _last(data)
        through = restoring and _restored_lately(data)
        came[
            f"{arguments[0]}, {'ended' if ended else 'killed'}{', through' if through else ''}"
        ] += 1
        assert through or now >= last + len(written), "an acknowledged row is gone"
        is_now = (data / "media" / "life").read_bytes() == b"now"
        assert is_now != through, "the pictures are not those of the book"
        for path in (data / "backups").glob("keptlines-*"):
            with looking.unpacked(path):
                pass
            path.unlink()
    print(json.dumps(came, indent=1))
    took = perf_counter() - begun
    print(f"{rounds} rounds in {took:.0f} s, all held")


def _last(data: Path) -> int:
    with closing(sqlite3.connect(data / "book.sqlite3", timeout=20)) as book:
        found = book.execute("SELECT count(*) FROM keeper_savedview").fetchone()
    return int(found[0])


def _whole(data: Path) -> None:
    from keeper.serving.letters import teach_letters

    with closing(sqlite3.connect(data / "book.sqlite3", timeout=20)) as book:
        teach_letters(book)
        assert book.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert book.execute("PRAGMA foreign_key_check").fetchall() == []


_seen: set[str] = set()


def _restored_lately(data: Path) -> bool:
    """Whether the book has an epoch that was not seen before, and so was restored."""
    with closing(sqlite3.connect(data / "book.sqlite3", timeout=20)) as book:
        epoch, restored_at = book.execute("SELECT epoch, restored_at FROM keeper_book").fetchone()
    new = restored_at is not None and epoch not in _seen
    _seen.add(epoch)
    return new


@contextmanager
def _somebody_writing(data: Path, *, writing: bool) -> Iterator[list[int]]:
    """Write rows all the while; the number of each that was acknowledged is added to the list."""
    stop, acknowledged = threading.Event(), list[int]()

    def write() -> None:
        book = sqlite3.connect(data / "book.sqlite3", timeout=20, isolation_level=None)
        with closing(book):
            while not stop.wait(0.01):
                book.execute(
                    "INSERT INTO keeper_savedview (account_id, name, query) "
                    "SELECT id, ?, '' FROM keeper_account",
                    [secrets.token_hex(8)],
                )
                acknowledged.append(len(acknowledged))

    if not writing:
        stop.set()
    writer = threading.Thread(target=write)
    writer.start()
    try:
        yield acknowledged
    finally:
        stop.set()
        writer.join()


def _killed(data: Path, arguments: list[str], after: float) -> bool:
    """Run a command and kill it after so many seconds; return whether it had ended before."""
    with subprocess.Popen(
        [sys.executable, str(ROOT / "manage.py"), *arguments],
        env=environment(data),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        stdin=subprocess.DEVNULL,
    ) as process:
        try:
            process.wait(timeout=after)
        except subprocess.TimeoutExpired:
            process.kill()
            return False
    return True


if __name__ == "__main__":
    main()
