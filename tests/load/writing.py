"""Two hundred rounds of forms posted at the same moment: `python -m tests.load.writing`.

`--with threads` or `--with processes`; on SQLite, or in the PostgreSQL database that DATABASE_URL
names, which must be an empty one of its own: the rounds are left in it. Nothing may be written
twice or lost, no answer may be an error, and the standings must be those of a recompute.
"""

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from time import perf_counter

from tests.benchmarks.scratch import scratch_book


def main() -> None:
    """Run the rounds and say how long they took."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rounds", type=int, default=200)
    asked.add_argument("--with", dest="hands", choices=["threads", "processes"], default="threads")
    options = asked.parse_args()
    with scratch_book():
        _run(options.rounds, options.hands)


def _run(rounds: int, hands: str) -> None:
    from django.conf import settings
    from django.db import connection, connections

    from keeper.domain.accounts.writes import add_helper, create_owner
    from tests.load.together import Post, Together, post

    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "testserver"]
    owner = create_owner(name="owner", password="a plain long password")
    helper = add_helper(name="helper", password="another long password", by=owner)

    def by_threads(posts: Sequence[Post]) -> list[int]:
        with ThreadPoolExecutor(len(posts)) as pool:
            return list(pool.map(post, posts))

    def by_processes(posts: Sequence[Post]) -> list[int]:
        # A child must not share the parent's connection.
        connections.close_all()
        with ProcessPoolExecutor(len(posts), get_context("fork")) as pool:
            return list(pool.map(post, posts))

    begun = perf_counter()
    Together(owner, helper, by_threads if hands == "threads" else by_processes).rounds(rounds)
    took = perf_counter() - begun
    print(f"{rounds} rounds by {hands} on {connection.vendor}: {took:.0f} s, all held")


if __name__ == "__main__":
    main()
