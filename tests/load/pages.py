"""Every page after each of many random acts: `python -m tests.load.pages --seeds 20 --steps 30`.

Writes, withdraws and undoes at random in a book with one of everything, and opens every address, of
one record that counts and one that was withdrawn. None may fail; the standings must be those of a
recompute at the end.
"""

import argparse
from time import perf_counter

from tests.benchmarks.scratch import scratch_book


def main() -> None:
    """Run the seeds, and say how many pages were opened."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", type=int, default=20)
    asked.add_argument("--first", type=int, default=100)
    asked.add_argument("--steps", type=int, default=30)
    options = asked.parse_args()
    with scratch_book():
        for seed in range(options.first, options.first + options.seeds):
            _run(seed, options.steps)


def _run(seed: int, steps: int) -> None:
    from django.conf import settings
    from django.contrib.contenttypes.models import ContentType
    from django.core.management import call_command

    from keeper.domain import inference
    from keeper.models import Account
    from tests.keeper.world import World, walk
    from tests.load.together import browser

    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "testserver"]
    call_command("flush", interactive=False, verbosity=0)
    ContentType.objects.clear_cache()
    owner = Account.objects.create(name="owner", role="owner")
    begun = perf_counter()
    opened = walk(browser(owner), World(owner, seed), steps)
    wrong = inference.differences()
    print(
        f"seed {seed}: {opened} pages in {perf_counter() - begun:.0f} s, {len(wrong)} standings off"
    )
    if wrong:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
