"""How well disputes are explained: `python -m tests.benchmarks.disputes --books 500`.

Random books with one planted mistake each (`tests.keeper.disputes.planted`, by its mix); the table
tells how often the true explanation is listed, and how often it is the likeliest. Books in which
the mistake makes nothing impossible are drawn again.
"""

import argparse
from collections import Counter
from random import Random
from statistics import median
from time import perf_counter

from tests.benchmarks.scratch import scratch_book


def main() -> None:
    """Draw the books, explain their disputes, print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--books", type=int, default=500)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--show", action="store_true", help="print what was not put first")
    options = asked.parse_args()
    with scratch_book():
        _measure(options.books, options.seed, show=options.show)


def _measure(books: int, seed: int, *, show: bool) -> None:
    from django.db import transaction

    from keeper.domain import inference
    from keeper.domain.accounts.writes import create_owner
    from tests.keeper.disputes.planted import MIX, explained_at

    inference.warm_up()
    owner = create_owner(name="owner", password="a plain long password")
    draw = Random(seed)
    kinds = draw.choices(list(MIX), weights=list(MIX.values()), k=books)
    drawn, listed, first = Counter[str](), Counter[str](), Counter[str]()
    seconds = []
    for number, kind in enumerate(kinds):
        with transaction.atomic():
            begun = perf_counter()
            place, told = explained_at(owner, kind, seed * 100_000 + number * 100)
            seconds.append(perf_counter() - begun)
            transaction.set_rollback(True)
        drawn[kind] += 1
        listed[kind] += place is not None
        first[kind] += place == 0
        if show and place != 0:
            print(number, kind, place, *told, sep="\n    ")
    print(f"{'planted':12} {'books':>6} {'listed':>8} {'first':>8}")
    for kind in MIX:
        _row(kind, drawn[kind], listed[kind], first[kind])
    _row("all", books, listed.total(), first.total())
    print(f"median {median(seconds):.2f} s a book, drawing and writing it included")


def _row(name: str, drawn: int, listed: int, first: int) -> None:
    if drawn:
        print(f"{name:12} {drawn:6} {listed / drawn:8.1%} {first / drawn:8.1%}")


if __name__ == "__main__":
    main()
