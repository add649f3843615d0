"""Whether projects that are played through the book end when it said that they would.

    python -m tests.benchmarks.played --projects 300 --seed 1 --into FILE
    python -m tests.benchmarks.played --ways advice random customary --projects 100 --into FILE
    python -m tests.benchmarks.played --read FILE

Each project is drawn, written into a book of its own and played by its own writes. The outlook is
what the book showed at the start. As a rule the keeper is the forecast's own, with what the book
says after each season's hatches: then where the season of success falls in the outlook must be
uniform. The other ways pair by the season's plan; the hatch's page names who is held back, or one
of each sex of a clutch is, at random or by the customary figure. A line of FILE is a project; a
later run with other seeds, or of the same in other ways, adds to it.
"""

import argparse
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from time import process_time
from typing import TYPE_CHECKING, Any

from tests.benchmarks.played.told import report, together
from tests.benchmarks.scratch import scratch_book

if TYPE_CHECKING:
    from tests.benchmarks.played.keepers import Keeper


def main() -> None:
    """Play what is asked for, and print what came of it."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--projects", type=int, default=300)
    asked.add_argument("--seed", type=int, default=1)
    names = ("policy", "advice", "random", "customary")
    asked.add_argument("--ways", nargs="+", choices=names, default=["policy"])
    asked.add_argument("--runs", type=int, default=400, help="of one comparison of advice")
    asked.add_argument("--into", type=Path, help="where projects are added")
    asked.add_argument("--read", type=Path, help="only tell of these")
    options = asked.parse_args()
    if options.read is not None:
        report(together(json.loads(line) for line in options.read.read_text().splitlines()))
        return
    found = []
    with scratch_book():
        from tests.benchmarks.played import keepers

        runs = options.runs
        every: dict[str, Callable[[], Keeper]] = {
            "policy": keepers.Policy,
            "advice": lambda: keepers.Advised(keepers.by_advice(runs), runs),
            "random": lambda: keepers.Advised(keepers.at_random, runs),
            "customary": lambda: keepers.Advised(keepers.by_custom, runs),
        }
        ways = {name: every[name] for name in options.ways}
        for one in played(range(options.seed, options.seed + options.projects), ways):
            found.append(one)
            if options.into is not None:
                with options.into.open("a") as file:
                    print(json.dumps(one), file=file)
    report(found)


def played(seeds: range, ways: "dict[str, Callable[[], Keeper]]") -> Iterator[dict[str, Any]]:
    """Play each project in each way, in a book of its own that is forgotten afterwards."""
    from django.core.cache import cache
    from django.db import transaction

    from keeper.domain import inference
    from keeper.domain.accounts.writes import create_owner
    from tests.benchmarks.played.books import Book
    from tests.benchmarks.played.drawn import drawn
    from tests.benchmarks.played.keepers import play

    inference.warm_up()
    owner = create_owner(name="owner", password="a plain long password")
    for seed in seeds:
        case = drawn(seed)
        one: dict[str, Any] = {"seed": seed, "season": {}, "later": {}}
        begun = process_time()
        for name, keeper in ways.items():
            with transaction.atomic():
                # Ids begin again with each book, and what is kept of outlooks goes by them.
                cache.clear()
                book = Book(case, owner)
                one["chances"] = book.outlook.chances
                one["exact"] = book.outlook.exact
                course = play(book, keeper())
                one["season"][name], one["later"][name] = course.season, course.later
                transaction.set_rollback(True)
        yield one | {"seconds": process_time() - begun}


if __name__ == "__main__":
    main()
