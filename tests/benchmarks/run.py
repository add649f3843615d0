"""Print the benchmark table: ``python -m tests.benchmarks.run [--rows NAME ...]``.

Times are medians after a warm-up; ours and the rival's are measured in turn within one process and
both include the building from records in memory. Peak memory is that of a process of its own that
builds and solves once.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence

from tests.benchmarks import engine
from tests.benchmarks.rows import ROWS, Row

HEADER = "| pedigree | ours | rival | ratio | required | our MiB | rival's MiB | met | note |"


def seconds(value: float | None) -> str:
    """A time for the table."""
    if value is None:
        return ""
    return f"{value:.2f} s" if value >= 1 else f"{value * 1e3:.3g} ms"


def line(row: Row) -> str:
    """A row of the table in Markdown."""
    ratio = ""
    if row.ours and row.rival:
        ratio = f"1/{row.rival / row.ours:.0f}"
    cells = (
        row.what,
        seconds(row.ours),
        row.rival_failure or seconds(row.rival),
        ratio,
        row.required,
        f"{row.our_peak:.0f}" if row.our_peak else "",
        f"{row.rival_peak:.0f}" if row.rival_peak else "",
        "" if row.met is None else ("yes" if row.met else "NO"),
        row.note,
    )
    return f"| {' | '.join(cells)} |"


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure the rows asked for, print each as it is done; 1 if one was not met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.run", description=__doc__)
    parser.add_argument("--rows", nargs="+", choices=list(ROWS), default=list(ROWS))
    chosen = parser.parse_args(arguments).rows
    engine.warm_up()
    load = os.getloadavg()[0]
    print(f"{os.cpu_count()} cores, load {load:.1f} at the start\n\n{HEADER}\n|{'---|' * 9}")
    missed = False
    for name in chosen:
        for row in ROWS[name]():
            print(line(row), flush=True)
            missed = missed or row.met is False
    return int(missed)


if __name__ == "__main__":
    raise SystemExit(main())
