"""How quick the app is on a large book: `python -m tests.benchmarks.book`.

    python -m tests.benchmarks.book --animals 1000 10000 100000
    python -m tests.benchmarks.book --animals 100000 --users 20 --processes 2 --no-alone
    python -m tests.benchmarks.book --users 4 --seconds 90 --slow 20 --keep /some/folder

A book is generated, written straight into a database of its own, and recomputed by the app; with
`--keep` it is made once and copied from then on. Each page is then opened by one reader and some
things are saved by one writer, in one process: p50 and p95 in milliseconds, the processor's part of
the p50, and the queries of one page. With `--users` people read and write at once against the
real server, with `--slow` beside phones that send a byte every half second. Several sizes are
measured one after the other and compared.

With DATABASE_URL the last size is kept in that PostgreSQL server, in databases of its own; with
`--postgresql all` every size is.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import asdict
from pathlib import Path
from time import perf_counter

from tests.benchmarks import generated, pages, people
from tests.benchmarks.generated import TRAITS
from tests.benchmarks.pages import Figure, quantile
from tests.benchmarks.scratch import Server, scratch_book

Figures = dict[str, Figure]


def main() -> None:
    """Measure every size that is asked for, and print."""
    options = _options()
    if len(options.animals) > 1:
        _compare(options)
        return
    found = _measure(options)
    if options.figures:
        told = {name: asdict(figure) for name, figure in found.items()}
        options.figures.write_text(json.dumps(told), encoding="utf-8")


def _options() -> argparse.Namespace:
    asked = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    asked.add_argument("--animals", type=int, nargs="+", default=[10_000])
    asked.add_argument("--traits", type=int, default=len(TRAITS))
    asked.add_argument("--keep", type=Path, help="a folder in which made books are kept")
    asked.add_argument("--users", type=int, default=0, help="so many people at once")
    asked.add_argument(
        "--processes", type=int, default=1, help="so many web servers; above 1 with PostgreSQL"
    )
    asked.add_argument("--seconds", type=float, default=90, help="for so long")
    asked.add_argument(
        "--every", type=float, default=people.PAGE_EVERY, help="seconds from page to page"
    )
    asked.add_argument("--slow", type=int, default=0, help="so many slow phones beside them")
    asked.add_argument(
        "--no-alone", action="store_true", help="leave the one reader and writer out"
    )
    asked.add_argument("--disputes", type=int, default=0, help="so many open disputes")
    asked.add_argument("--whole", action="store_true", help="recompute and compare the book too")
    asked.add_argument("--postgresql", choices=["last", "all"], default="last")
    asked.add_argument("--figures", type=Path, help="write what was found to this file too")
    return asked.parse_args()


# --- several sizes ---------------------------------------------------------------------------


def _compare(options: argparse.Namespace) -> None:
    """Measure each size in a process of its own; print the medians and how they grow."""
    found: dict[int, Figures] = {}
    with tempfile.TemporaryDirectory() as folder:
        for animals in options.animals:
            file = Path(folder) / f"{animals}.json"
            settings = dict(os.environ)
            if animals != options.animals[-1] and options.postgresql == "last":
                settings.pop("DATABASE_URL", None)
            print(f"\n{animals} animals", flush=True)
            subprocess.run(_again(options, animals, file), env=settings, check=True)
            told = json.loads(file.read_text(encoding="utf-8"))
            found[animals] = {name: Figure(**figure) for name, figure in told.items()}
    least, most = options.animals[0], options.animals[-1]
    print(f"\n{'p50 in ms':32}" + "".join(f"{size:>10}" for size in found) + f"{'ratio':>8}")
    for name in found[least]:
        of = [figures[name].p50 for figures in found.values() if name in figures]
        if not found[least][name].p50 or name not in found[most]:
            continue
        ratio = found[most][name].p50 / found[least][name].p50
        print(f"{name:32}" + "".join(f"{one:10.0f}" for one in of) + f"{ratio:8.1f}")


def _again(options: argparse.Namespace, animals: int, file: Path) -> list[str]:
    asked = [sys.executable, "-m", "tests.benchmarks.book", "--animals", str(animals)]
    asked += ["--traits", str(options.traits), "--figures", str(file)]
    asked += ["--users", str(options.users), "--seconds", str(options.seconds)]
    asked += ["--processes", str(options.processes), "--every", str(options.every)]
    asked += ["--slow", str(options.slow), "--disputes", str(options.disputes)]
    asked += ["--whole"] if options.whole else []
    asked += ["--no-alone"] if options.no_alone else []
    return asked + (["--keep", str(options.keep)] if options.keep else [])


# --- one size --------------------------------------------------------------------------------


def _measure(options: argparse.Namespace) -> Figures:
    animals, names = options.animals[0], TRAITS[: options.traits]
    print(f"load of this machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    with _book(animals, names, options.keep) as folder:
        from keeper.domain import inference

        inference.warm_up()
        generated.write_disputes(options.disputes)
        if options.whole:
            _whole()
        found: Figures = {}
        if not options.no_alone:
            _print("one reader", read := pages.one_reader())
            _print("one writer", written := pages.one_writer())
            found |= read | written
        if options.users:
            found |= _people(options, folder)
    print(f"load of this machine {os.getloadavg()[0]:.1f}")
    return found


@contextmanager
def _book(animals: int, names: tuple[str, ...], keep: Path | None) -> Iterator[Path]:
    """Set Django up on a copy of a kept book, or on one made now."""
    url = os.environ.get("DATABASE_URL")
    if url is None:
        with _in_folder(animals, names, keep) as folder:
            yield folder
        return
    server, work = Server(url), f"keptlines_work_{animals}"
    kept = f"keptlines_kept_{animals}_{len(names)}"
    there = keep is not None and server.has(kept)
    server.drop(work)
    server.make(work, **({"like": kept} if there else {}))
    os.environ["DATABASE_URL"] = server.of(work)
    try:
        with scratch_book() as folder:
            if not there:
                _make(animals, names)
                if keep is not None:
                    server.make(kept, like=work)
            yield folder
            _close()
    finally:
        server.drop(work)


@contextmanager
def _in_folder(animals: int, names: tuple[str, ...], keep: Path | None) -> Iterator[Path]:
    kept = keep / f"{animals}-{len(names)}" if keep else None
    there = kept is not None and kept.exists()
    with scratch_book(kept if there else None) as folder:
        if not there:
            _make(animals, names)
            if kept is not None:
                half = kept.with_suffix(".half")
                shutil.copytree(folder, half, dirs_exist_ok=True)
                half.rename(kept)
        yield folder
        _close()


def _make(animals: int, names: tuple[str, ...]) -> None:
    from keeper.domain import inference

    inference.warm_up()
    begun = perf_counter()
    generated.write_book(animals, names)
    _take_stock()
    print(f"written and recomputed in {perf_counter() - begun:.1f} s", flush=True)
    _close()


def _take_stock() -> None:
    """Let PostgreSQL see how large its tables are, as it does by itself after a while."""
    from django.db import connection

    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def _close() -> None:
    from django.db import connections

    connections.close_all()


def _whole() -> None:
    """Time a recompute of a book without a standing, and the comparison with what is stored."""
    from keeper.domain import inference
    from keeper.domain.book.writing import writing
    from keeper.models import Standing

    Standing.objects.all().delete()
    begun = perf_counter()
    with writing(by=None, what="Recomputed", of_records=False) as book:
        inference.recompute(entry=book.entry)
    print(f"whole book computed in {perf_counter() - begun:.1f} s (must: 8)")
    begun = perf_counter()
    wrong = inference.differences()
    print(f"compared with what is stored in {perf_counter() - begun:.1f} s (must: 12)")
    print(f"{Standing.objects.count()} standings, {len(wrong)} differ")


def _print(title: str, found: Figures) -> None:
    print(f"\n{title:32}{'p50':>8}{'p95':>8}{'cpu':>8}{'queries':>9}{'number':>8}")
    for name, one in found.items():
        print(f"{name:32}{one.p50:8.0f}{one.p95:8.0f}{one.cpu:8.0f}{one.queries:9}{one.number:8}")
    sys.stdout.flush()


# --- people at once --------------------------------------------------------------------------


def _people(options: argparse.Namespace, folder: Path) -> Figures:
    """Serve the book in a process of its own and let people at it."""
    from tests.processes import served, started

    url = os.environ.get("DATABASE_URL")
    subjects = people.subjects(pages.addresses())
    _close()
    settings = {"DATABASE_URL": url} if url else {}
    with ExitStack() as running:
        if options.processes > 1:
            ports = running.enter_context(served(options.processes, data=folder, **settings))
        else:
            ports = [running.enter_context(started(data=folder, **settings)).port]
        heard = people.at_once(
            people=options.users,
            ports=ports,
            seconds=options.seconds,
            subjects=subjects,
            slow=options.slow,
            every=options.every,
        )
    of_pages = {f"{name} (many)": _figure(times) for name, times in sorted(heard.pages.items())}
    of_saves = {f"{name} (many)": _figure(times) for name, times in sorted(heard.saves.items())}
    every = [time for times in heard.saves.values() for time in times]
    of_saves["every save (many)"] = _figure(every)
    everything = [time for times in heard.pages.values() for time in times]
    of_pages["every page (many)"] = _figure(everything)
    _print(f"{options.users} people, {options.seconds:.0f} s", of_pages | of_saves)
    print(
        f"{heard.requests} requests, {len(heard.errors)} errors, "
        f"{len(heard.refused)} saves refused; the generator took {heard.share:.1%} of one processor"
    )
    for line in (*heard.errors, *heard.refused):
        print(f"    {line}")
    return of_pages | of_saves


def _figure(times: list[float]) -> Figure:
    if not times:
        return Figure(0, 0)
    return Figure(quantile(times, 0.5), quantile(times, 0.95), number=len(times))


if __name__ == "__main__":
    main()
