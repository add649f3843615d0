"""The rows of the table, each a function that measures and tells what was required."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from statistics import median
from time import process_time

import numpy as np

from genetics.diversity import Diversity
from genetics.kinship import Pedigree as Lineage
from genetics.solving import Solved
from tests.benchmarks import engine, projects
from tests.benchmarks.measure import Outcome, Spec, alone, apart, paired, timed
from tests.benchmarks.pedigrees import Pedigree, generate, to_case
from tests.benchmarks.rivals import Factor, MarkovField, PlainNetwork

CELLS = 2.0**26
AGREE = 1e-9


@dataclass(frozen=True)
class Row:
    """One line of the table; times in seconds, memory in MiB."""

    what: str
    ours: float | None = None
    rival: float | None = None
    required: str = ""
    met: bool | None = None
    our_peak: float | None = None
    rival_peak: float | None = None
    note: str = ""
    rival_failure: str | None = None


def _against_rival(what: str, spec: Spec, times: int, repeats: int, memory: float | None) -> Row:
    pedigree = spec.pedigree()
    rows = engine.records(pedigree)
    _, tables = engine.solve_rows(rows)
    apart_by = float(np.abs(tables[0] - PlainNetwork(pedigree).posteriors()).max())
    if apart_by > AGREE:
        raise AssertionError(f"{what}: posteriors differ by {apart_by:.2g}")
    ours, rival = paired(
        partial(engine.solve_rows, rows), lambda: PlainNetwork(pedigree).posteriors(), repeats
    )
    checked = alone(partial(engine.population, rows), repeats)
    our_peak, rival_peak = apart("engine", spec).peak, apart("rival", spec).peak
    met = ours * times <= rival
    required = f"1/{times} of the rival"
    if memory is not None:
        required += f", 1/{memory:.0f} of its memory"
        met = met and our_peak is not None and rival_peak is not None
        met = met and (our_peak or 0) * memory <= (rival_peak or 0)
    note = f"of ours {checked * 1e3:.1f} ms make and check the records; agree to {apart_by:.1g}"
    return Row(what, ours, rival, required, met, our_peak, rival_peak, note)


def closed_1000() -> Iterator[Row]:
    """One closed collection of 1,000, one locus."""
    yield _against_rival("1 collection, 1,000 animals", Spec(1_000), 50, 9, None)


def trading_10000() -> Iterator[Row]:
    """20 collections of 500 that trade, one locus."""
    spec = Spec(10_000, 20)
    yield _against_rival("20 collections that trade, 10,000 animals", spec, 300, 3, 5.0)


def plain_rival() -> Iterator[Row]:
    """The first two rows against the library used plainly, as the bars were first measured."""
    for spec, times in ((Spec(1_000), 50), (Spec(10_000, 20), 300)):
        pedigree = spec.pedigree()
        rows = engine.records(pedigree)
        ours, rival = paired(
            partial(engine.solve_rows, rows),
            lambda pedigree=pedigree: PlainNetwork(pedigree, plainly=True).posteriors(),  # type: ignore[misc]
            3,
        )
        what = f"{spec.animals:,} in {spec.collections}, the rival built plainly"
        yield Row(what, ours, rival, f"1/{times} of the rival", ours * times <= rival)


def many_loci() -> Iterator[Row]:
    """The same with 24 loci in one call, against the engine's own time for one."""
    one, many = (engine.records(Spec(10_000, 20, loci).pedigree()) for loci in (1, 24))
    single = alone(partial(engine.solve_rows, one), 5)
    ours = alone(partial(engine.solve_rows, many), 3)
    note = f"{ours / single:.1f} times the {single * 1e3:.0f} ms for one locus"
    peak = apart("engine", Spec(10_000, 20, 24)).peak
    required = "24 times one locus"
    yield Row("the same, 24 loci", ours, None, required, ours <= 24 * single, peak, note=note)


def large_100000() -> Iterator[Row]:
    """200 collections, 100,000 animals, on one core."""
    found = apart("engine", Spec(100_000, 200), repeats=3)
    seconds, peak = found.seconds or np.inf, found.peak or np.inf
    met = seconds < 3 and peak < 1024
    what = "200 collections, 100,000 animals"
    yield Row(what, seconds, None, "3 s on one core, 1 GiB", met, peak, note=found.failure or "")


def _closed(animals: int, seed: int, rival: Outcome | None) -> Row:
    spec = Spec(animals, seed=seed, uncertain="all")
    rows = engine.records(spec.pedigree())
    ours, (solved, _) = timed(partial(engine.solve_rows, rows))
    allowed = 3 if solved.exact else 30
    required = "3 s, exact" if solved.exact else "30 s, error bars"
    bars = engine.bars(solved)
    note = "exact" if solved.exact else f"bars: mean {bars.mean():.2g}, widest {bars.max():.2g}"
    met = ours < allowed and bool(np.isfinite(bars).all()) and bool(solved.exact or bars.max() > 0)
    what = f"1 collection, {animals:,} animals, all uncertain, seed {seed}"
    failure = rival.failure if rival else None
    return Row(
        what, ours, rival.seconds if rival else None, required, met,
        apart("engine", spec).peak, rival.peak if rival else None, note, failure,
    )  # fmt: skip


def closed_3000() -> Iterator[Row]:
    """Closed collections of 3,000, every founder uncertain: exact where the plan fits."""
    for seed in range(1, 7):
        spec = Spec(3_000, seed=seed, uncertain="all")
        yield _closed(3_000, seed, apart("rival", spec) if seed == 1 else None)


def closed_5000() -> Iterator[Row]:
    """Closed collections of 5,000, every founder uncertain, then the cover of the bars."""
    for seed in (1, 2):
        yield _closed(5_000, seed, None)
    yield coverage()


def coverage() -> Row:
    """How often the bars hold the exact posterior, where that is known, cut sets forced."""
    held: list[float] = []
    held_far: list[float] = []
    for seed in range(1, 7):
        book = engine.population(engine.records(generate(1_000, seed=seed, uncertain="all")))
        exact = engine.answers(book)[1][0]
        solved, (table,) = engine.sampled(book, narrow=2.0**4)
        off = np.abs(table - exact).max(axis=1)
        bars = engine.bars(solved)
        open_ = bars > 0
        held.extend((off <= bars)[open_])
        held_far.extend((off <= bars)[open_ & (off > 1e-3)])
    share, far = float(np.mean(held)), float(np.mean(held_far)) if held_far else 1.0
    note = f"hold {share:.1%} of {len(held)}; of the {len(held_far)} off by over 0.001 {far:.1%}"
    what = "cover of the 95 % bars, 6 pedigrees of 1,000 animals"
    return Row(what, required="95 %", met=share >= 0.95, note=note)


def one_clutch() -> Iterator[Row]:
    """A clutch of seven that showed nothing, logged at 10,000 animals."""
    pedigree = Spec(10_000, 20).pedigree()
    solved, (table,) = engine.answers(engine.population(engine.records(pedigree)))
    _logged(solved, int(pedigree.clutch_dam[0]), int(pedigree.clutch_sire[0]), "warm")
    times, moved = [], []
    for number, clutch in enumerate(_open_couples(pedigree, table)[:40]):
        dam, sire = int(pedigree.clutch_dam[clutch]), int(pedigree.clutch_sire[clutch])
        seconds, new = timed(partial(_logged, solved, dam, sire, f"new{number}"))
        new = new[: len(table)]
        times.append(seconds)
        moved.append(int((np.abs(new - table).max(axis=1) > 1e-12).sum()))
    ours, worst = median(times), max(times)
    note = f"{len(times)} clutches, worst {worst * 1e3:.1f} ms; up to {max(moved)} animals moved"
    yield Row("one clutch logged at 10,000 animals", ours, None, "10 ms", worst < 0.010, note=note)


def _logged(solved: Solved, dam: int, sire: int, name: str) -> engine.Floats:
    table = engine.clutch_logged(solved, dam, sire, 7, name).posterior_table("g0")[2]
    return table


def _open_couples(pedigree: Pedigree, table: engine.Floats) -> list[int]:
    """Clutches of couples of which both parents are uncertain, in random order."""
    open_ = table.max(axis=1) < 1 - 1e-9
    both = np.flatnonzero(open_[pedigree.clutch_dam] & open_[pedigree.clutch_sire])
    return [int(clutch) for clutch in np.random.default_rng(0).permutation(both)]


def family_60() -> Iterator[Row]:
    """A family of 60 with one look and three lines that may be one locus or several."""
    rows = engine.records(generate(60, loci=3, seed=11))
    solved, _ = engine.solve_rows(rows, undecided=0.3)
    ours = alone(partial(engine.solve_rows, rows, undecided=0.3), 15)
    note = f"{len(solved.worlds)} hypotheses possible"
    yield Row("family of 60, three undecided lines", ours, None, "50 ms", ours < 0.05, note=note)


def second_rival() -> Iterator[Row]:
    """The library's Markov random field on the engine's own reduced network."""
    specs = (
        Spec(1_000),
        Spec(10_000, 20),
        Spec(1_000, uncertain="all"),
        Spec(2_000, uncertain="all"),
        Spec(10_000, 20, uncertain="all"),
    )
    for spec in specs:
        net = engine.reduced(engine.population(engine.records(spec.pedigree())))
        cards, factors = engine.as_factors(net)
        mine = engine.solve_reduced(net, CELLS)
        animals, states = engine.reduced_variables(net)
        field = _field(cards, factors)
        apart_by = max(
            float(np.abs(mine[animal][kept] - other).max())
            for animal, kept, other in zip(animals, states, field, strict=True)
        )
        if apart_by > AGREE:
            raise AssertionError(f"reduced graph: posteriors differ by {apart_by:.2g}")
        ours, rival = paired(
            partial(engine.solve_reduced, net, CELLS), partial(_field, cards, factors), 5
        )
        what = f"second rival: reduced graph of {spec.animals:,} in {spec.collections}, "
        note = f"{len(cards)} variables, {len(factors)} factors, agree to {apart_by:.1g}"
        yield Row(what + spec.uncertain, ours, rival, "report", None, note=note)


def _field(cards: list[int], factors: list[Factor]) -> list[engine.Floats]:
    return MarkovField(cards, factors).posteriors()


def growth() -> Iterator[Row]:
    """Time by size, collections of 500 each; the least of five, as other load only adds."""
    sizes = (10_000, 20_000, 50_000, 100_000)
    times, notes = [], []
    for size in sizes:
        rows = engine.records(Spec(size, size // 500).pedigree())
        times.append(min(timed(partial(engine.solve_rows, rows))[0] for _ in range(5)))
        notes.append(f"{times[-1] / size * 1e6:.1f}")
    factor = times[-1] / times[0]
    note = f"microseconds an animal at {', '.join(f'{s:,}' for s in sizes)}: {', '.join(notes)}"
    required = "10 times the animals, at most 13 times the time"
    note = f"{factor:.1f} times; {note}"
    yield Row("growth, 10,000 to 100,000", times[-1], None, required, factor <= 13, note=note)


def forecasts() -> Iterator[Row]:
    """Two recessives from scratch: 20,000 runs of ten seasons, CPU time of one core."""
    for places, uncertain in ((None, False), (8, True)):
        solved, question = projects.two_recessives(places, uncertain)
        projects.forecast(solved, question)
        ours = min(projects.cpu(partial(projects.forecast, solved, question)) for _ in range(5))
        what = f"forecast of a project, places {places or 'without limit'}"
        note = "founders that may carry" if uncertain else "visual founders"
        yield Row(what, ours, None, "2 s of CPU", ours < 2, note=note)


def seasons() -> Iterator[Row]:
    """Sixty females and forty males, the worth of all 2,400 pairs made of two goals, CPU time."""
    solved, question = projects.yard()
    projects.paired(solved, question)
    times = []
    for _ in range(3):
        begun = process_time()
        projects.paired(solved, question)
        times.append(process_time() - begun)
    ours = min(times)
    note = f"the worth of all pairs and the best {question.clutches} of them, with the next best"
    yield Row("season of 60 x 40", ours, None, "2 s of CPU", ours < 2, note=note)


LIVING = 400


def diversity() -> Iterator[Row]:
    """Founders, their equivalents and every mean kinship, from the parents' numbers on."""
    pedigree = Spec(10_000, 20).pedigree()
    living = np.zeros(pedigree.animals)
    living[-LIVING:] = 1.0

    def asked() -> tuple[float, float, int]:
        begun = process_time()
        found = Diversity(Lineage.from_parents(pedigree.dam.tolist(), pedigree.sire.tolist()))
        equivalents = float(found.founder_equivalents(living))
        found.contributions(living)
        found.mean_kinships(living)
        genomes = float(found.genome_equivalents(living))
        if not 0.5 <= genomes <= equivalents <= len(found.founders):
            raise AssertionError(
                f"f_g {genomes}, f_e {equivalents}, {len(found.founders)} founders"
            )
        return process_time() - begun, genomes, len(found.founders)

    asked()
    taken, genomes, founders = sorted(asked() for _ in range(5))[2]
    note = f"processor's time; {founders} founders, {genomes:.1f} genome equivalents"
    what = f"diversity of {LIVING} living of 10,000"
    yield Row(what, taken, None, "1 s", taken < 1, note=note)


def command_line() -> Iterator[Row]:
    """Start-up of the command line with a family of 20."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "case.json"
        path.write_text(json.dumps(to_case(generate(20, seed=1))))
        command = [sys.executable, "-m", "genetics", "solve", str(path)]
        ours = alone(lambda: subprocess.run(command, capture_output=True, check=True), 9)
    bare = alone(lambda: subprocess.run([sys.executable, "-c", "import numpy"], check=True), 9)
    note = f"of it {bare * 1e3:.0f} ms start the interpreter and import NumPy"
    yield Row("command line, family of 20", ours, None, "0.5 s", ours < 0.5, note=note)


ROWS: dict[str, Callable[[], Iterator[Row]]] = {
    "1000": closed_1000,
    "10000": trading_10000,
    "plain": plain_rival,
    "loci": many_loci,
    "100000": large_100000,
    "3000": closed_3000,
    "5000": closed_5000,
    "clutch": one_clutch,
    "lines": family_60,
    "rival2": second_rival,
    "growth": growth,
    "forecast": forecasts,
    "seasons": seasons,
    "diversity": diversity,
    "cli": command_line,
}
