"""How many processes a run of the tests is worth: all cores for many files, none for a few.

A worker costs two seconds before its first test, so one file, one test or a search by name is
quicker without. `-n` on the command line decides otherwise, `-n 0` in favour of none.
"""

import subprocess
import sys
from itertools import islice
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
LOOPS = ROOT / "genetics" / "kernels"
WORTH_WORKERS = 12
"""Test files from which on workers are started."""
LONGEST = (
    "tests/journeys/test_every_page.py",
    "tests/keeper/frame/test_every_page_always.py",
    "tests/genetics/test_engine_twin.py",
    "tests/keeper/upgrades/test_upgrade.py",
    "tests/keeper/backups/test_commands.py",
    "tests/keeper/accounts/test_every_address.py",
    "tests/genetics/test_parents_alone.py",
    "tests/keeper/inference/test_workers.py",
    "tests/keeper/example/test_loading.py",
    "tests/keeper/inference/test_always.py",
    "tests/keeper/archives/test_equal.py",
    "tests/keeper/disputes/test_always.py",
    "tests/keeper/serving/test_start.py",
    "tests/keeper/book/test_cost.py",
)
"""Files whose tests, or what they set up, take seconds each; the longest first.

What is begun with is not shared with another worker later on, so what a file sets up is set up
once.
"""


def share_out(config: pytest.Config) -> None:
    """Choose the number of workers, unless whoever runs the tests has chosen."""
    options = config.option
    if getattr(options, "numprocesses", 0) is not None or hasattr(config, "workerinput"):
        return  # chosen, or no pytest-xdist, or a worker itself
    narrowed = (options.keyword, options.collectonly, options.usepdb)
    rerun = (getattr(options, "lf", False), getattr(options, "stepwise", False))
    if any(narrowed) or any(rerun) or files_in(config.args) < WORTH_WORKERS:
        return
    options.numprocesses = "auto"
    if options.dist == "no":
        options.dist = "worksteal"


def longest_first(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Let every worker begin with its share of the longest files, so that none waits at the end.

    The rest stays in the order it came in. Each worker is handed one run of items, in turn.
    """
    count = getattr(config, "workerinput", {}).get("workercount", 1)
    if count < 2:
        return
    long: dict[str, list[pytest.Item]] = {name: [] for name in LONGEST}
    rest: list[pytest.Item] = []
    for item in items:
        long.get(item.nodeid.partition("::")[0], rest).append(item)
    begins = [
        [one for name in LONGEST[first::count] for one in long[name]] for first in range(count)
    ]
    items[:] = [one for part in _shares(begins, rest) for one in part]


def _shares(begins: list[list[pytest.Item]], rest: list[pytest.Item]) -> list[list[pytest.Item]]:
    """What each worker begins with, filled up from the rest as pytest-xdist cuts its runs."""
    left = sum(map(len, begins)) + len(rest)
    given = iter(rest)
    shares = []
    for number, begin in enumerate(begins):
        size = left // (len(begins) - number)
        shares.append(begin + list(islice(given, max(0, size - len(begin)))))
        left -= len(shares[-1])
    return [*shares, list(given)]


def compile_ahead(config: pytest.Config) -> None:
    """Compile the engine's loops if there will be workers, which would each do it at once."""
    if not getattr(config.option, "tx", None) or hasattr(config, "workerinput"):
        return
    if not all(_is_compiled(source) for source in LOOPS.glob("[!_]*.py")):
        command = [sys.executable, "-c", "import genetics; genetics.warm_up()"]
        subprocess.run(command, cwd=ROOT, check=True)


def _is_compiled(source: Path) -> bool:
    written = source.stat().st_mtime
    kept = source.parent.glob(f"__pycache__/{source.stem}.*.nbi")
    return any(index.stat().st_mtime > written for index in kept)


def files_in(arguments: list[str]) -> int:
    """Return how many test files the arguments of a run name."""
    return len({file for argument in arguments for file in _files(argument.partition("::")[0])})


def _files(name: str) -> list[Path]:
    path = Path(name).resolve()
    return sorted(path.rglob("test_*.py")) if path.is_dir() else [path]
