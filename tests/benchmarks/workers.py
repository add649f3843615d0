"""What workers gain on a whole book: `python -m tests.benchmarks.workers`.

A book of ten thousand animals is generated as for `book`. Its subproblems are solved by one warm
worker and by two, in turn, several times: wall time, and the processor time that this process and
the workers took, which tells more where others use the machine too. Then the whole, as
`manage.py recompute` does it: read, solve, compare, write; in this process alone, and with two
workers that have been started.
"""

import argparse
import os
from collections.abc import Callable
from functools import partial
from statistics import median
from time import perf_counter, process_time
from typing import Any

import genetics
from tests.benchmarks.generated import TRAITS
from tests.benchmarks.scratch import scratch_book

# Wall time, this process's own, and that of all workers together; seconds.
Spent = tuple[float, float, float]


def main() -> None:
    """Make the book, measure, print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--animals", type=int, default=10_000)
    asked.add_argument("--repeats", type=int, default=5)
    options = asked.parse_args()
    with scratch_book():
        _measure(options.animals, options.repeats)


def _measure(animals: int, repeats: int) -> None:
    from keeper.domain import inference
    from tests.benchmarks.generated import write_book

    inference.warm_up()
    write_book(animals, TRAITS)
    with inference.workers_here(1) as one, inference.workers_here(2) as two:
        for workers in (one, two):
            workers.ask(genetics.warm_up)
        _solving(one, two, repeats)
        _whole(two)


def _solving(one: Any, two: Any, repeats: int) -> None:
    from keeper.domain.inference.standings.computing import SpeciesBook
    from keeper.models import Species

    posed = list(SpeciesBook(Species.objects.get()).all_posed())
    work = [each.subproblem for each in posed]
    print(f"{len(work)} subproblems, {sum(each.size for each in posed)} records")
    spent: dict[int, list[Spent]] = {1: [], 2: []}
    for turn in range(repeats + 1):
        for count, workers in ((1, one), (2, two)):
            found = _spent(partial(_solved, workers, work), workers)
            if turn:  # the first is for what is loaded once
                spent[count].append(found)
    for count, listed in spent.items():
        wall, mine, theirs = (median(column) for column in zip(*listed, strict=True))
        print(
            f"solved by {count}: {wall:.2f} s, best {min(listed)[0]:.2f} s; processor "
            f"{mine:.2f} s here and {theirs:.2f} s there"
        )
    print(
        f"two gain {median(s[0] for s in spent[1]) / median(s[0] for s in spent[2]):.2f} times "
        f"(must: 1.7), best of each {min(spent[1])[0] / min(spent[2])[0]:.2f}; "
        f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
    )


def _solved(workers: Any, work: list[Any]) -> None:
    for one in work:
        workers.put(one)
    assert sum(1 for _ in workers.answers()) == len(work)


def _spent(work: Callable[[], object], workers: Any) -> Spent:
    theirs, mine, begun = sum(workers.ask(process_time)), process_time(), perf_counter()
    work()
    wall, own = perf_counter() - begun, process_time() - mine
    return wall, own, sum(workers.ask(process_time)) - theirs


def _whole(two: Any) -> None:
    from django.db import transaction

    from keeper.domain import inference
    from keeper.domain.book.writing import writing

    def recompute(solver: Any) -> None:
        ahead = inference.solved_ahead(solver)
        inference.differences(ahead)
        with writing(by=None, what="Recomputed", of_records=False) as book:
            inference.recompute(entry=book.entry, ahead=ahead)
            transaction.set_rollback(True)

    for name, solver in (("this process alone", None), ("two workers", two)):
        wall, mine, theirs = _spent(partial(recompute, solver), two)
        print(
            f"the whole by {name}: {wall:.1f} s; processor {mine:.1f} s here and "
            f"{theirs:.1f} s there"
        )


if __name__ == "__main__":
    main()
