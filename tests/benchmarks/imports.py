"""How quick a table is brought in: `python -m tests.benchmarks.imports --rows 10000`.

A herd is generated and written as a table of plain text, one row an animal in no order, and brought
in through the domain as the pages do it. Printed are the seconds of this process (not of the wall:
other work on the machine does not count) for each step.
"""

import argparse
import csv
import io
import random
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from time import perf_counter, process_time

from tests.benchmarks.generated import TRAITS
from tests.benchmarks.pedigrees import HET, POSSIBLE_HET, VISUAL, generate
from tests.benchmarks.scratch import scratch_book

_START, _DAYS = date(2006, 6, 1), 7000
_SAID = {VISUAL: "visual", HET: "100% het", POSSIBLE_HET: "66% poss het"}


def main() -> None:
    """Measure every step, and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rows", type=int, default=10_000)
    asked.add_argument("--undo", action="store_true", help="take it back too")
    options = asked.parse_args()
    data = table(options.rows, TRAITS)
    with scratch_book():
        _measure(data, undo=options.undo)


def table(animals: int, names: tuple[str, ...]) -> bytes:
    """Return a herd as a keeper may have it in a table, its rows in no order."""
    made = generate(animals, collections=max(1, animals // 500), loci=len(names), seed=1)
    first: dict[int, int] = {}
    for i, clutch in enumerate(made.clutch.tolist()):
        first.setdefault(clutch if clutch >= 0 else -1 - i, i)
    rows = []
    for i, clutch in enumerate(made.clutch.tolist()):
        dam = sire = ""
        if clutch >= 0:
            dam = f"A{int(made.clutch_dam[clutch]) + 1:05}"
            sire = f"A{int(made.clutch_sire[clutch]) + 1:05}"
        said = [
            f"{_SAID[paper]} {names[k]}"
            for k, paper in enumerate(made.papers[i].tolist())
            if paper in _SAID and clutch < 0
        ]
        said += [names[k] for k in range(len(names)) if clutch >= 0 and made.looks[i, k]]
        born = first[clutch] if clutch >= 0 else i
        on = _START + timedelta(days=born * _DAYS // animals)
        rows.append(
            (
                f"A{i + 1:05}",
                ("0.1", "1.0")[made.sex[i]],
                f"{on:%d/%m/%Y}",
                dam,
                sire,
                ", ".join(said) or "normal",
                "" if clutch >= 0 else f"Source {int(made.home[i])}",
            )
        )
    random.Random(1).shuffle(rows)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(("Code", "Sex", "Hatched", "Dam", "Sire", "Traits", "From"))
    writer.writerows(rows)
    return out.getvalue().encode()


def _measure(data: bytes, *, undo: bool) -> None:
    from django.test import Client

    from keeper import models as m
    from keeper.domain import inference
    from keeper.domain.accounts.writes import create_owner
    from keeper.domain.backups.shelf import scratch
    from keeper.domain.book import undoing
    from keeper.domain.imports import ahead, changing, writes
    from keeper.domain.imports.checking import check
    from keeper.domain.imports.choices import choices_of

    owner = create_owner(name="owner", password="a plain long password")
    species = m.Species.objects.create(name="royal python", sex_determination="XY")
    for n, name in enumerate(TRAITS):
        trait = m.Trait.objects.create(species=species, name=name)
        locus = m.Locus.objects.create(species=species, name=name.lower())
        m.Line.objects.create(trait=trait, locus=locus, code=f"H{chr(65 + n)}", name="Harvesk")
    inference.warm_up()
    with _told("reading the file"):
        one = changing.begin(name="herd.csv", data=data, by=owner)
    choices = replace(choices_of(one), species=species.pk)
    changing.pick(one=one, picks=one.picks, choices=choices, version=one.version)
    one.refresh_from_db()
    with _told("the dry run"):
        found = check(one)
    print({str(fate): count for fate, count in found.counts.items()}, len(found.clutches))
    for row in [row for row in found.rows if row.problems][:5]:
        print(row, row.problems)
    m.Import.objects.update(seen=found.digest)
    steps = _Steps()
    write = partial(writes.bring_in, one=one, by=owner, tell=steps)
    with (
        _told("writing it"),
        scratch("importing") as folder,
        ahead.worked_out(write, folder=folder) as made,
    ):
        steps.end()
        with _told("    of which others wait for"):
            made.put_in()
    entry = m.DaybookEntry.objects.order_by("pk")[0]
    assert not inference.differences()
    print(f"{m.Standing.objects.count()} standings, {m.Dispute.objects.count()} disputes")
    client = Client()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    for name, address in (
        ("the page of its entry", f"/daybook/{entry.pk}/"),
        ("its own page", f"/imports/{one.pk}/"),
        ("Today", "/"),
    ):
        with _told(name):
            assert client.get(address, headers={"host": "localhost"}).status_code == 200
    if undo:
        with _told("what taking it back would do"):
            client.get(f"/daybook/{entry.pk}/undo/", headers={"host": "localhost"})
        with _told("taking it back"):
            undoing.undo(entry=entry, by=owner)


class _Steps:
    """Tells when each step began."""

    def __init__(self) -> None:
        self.doing, self.since = "", process_time()

    def __call__(self, doing: str, done: int, of: int) -> None:
        if doing != self.doing:
            self.end()
            self.doing, self.since = doing, process_time()

    def end(self) -> None:
        if self.doing:
            print(f"    {self.doing:32} {process_time() - self.since:6.1f} s")


@contextmanager
def _told(what: str) -> Iterator[None]:
    begun, wall = process_time(), perf_counter()
    yield
    print(f"{what:36} {process_time() - begun:6.1f} s (wall {perf_counter() - wall:.1f} s)")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
