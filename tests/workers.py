"""How many processes a run of the tests is worth: all cores for many files, none for a few.

A worker costs two seconds before its first test, so one file, one test or a search by name is
quicker without. `-n` on the command line decides otherwise, `-n 0` in favour of none.
"""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
LOOPS = ROOT / "genetics" / "kernels"
WORTH_WORKERS = 12
"""Test files from which on workers are started."""


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
