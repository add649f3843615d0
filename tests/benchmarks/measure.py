"""Times paired within one process, and peak memory each in a process of its own."""

from __future__ import annotations

import gc
import json
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from statistics import median
from time import perf_counter
from typing import Any, Literal, TypeVar

from tests.benchmarks.pedigrees import Pedigree, Uncertain, generate

Side = Literal["engine", "rival"]
T = TypeVar("T")
MEMORY_CAP = 12 << 30
"""Bytes of address space a measured process may take, so that it cannot starve the machine."""
TIME_CAP = 180.0


@dataclass(frozen=True)
class Spec:
    """Which pedigree."""

    animals: int
    collections: int = 1
    loci: int = 1
    seed: int = 1
    uncertain: Uncertain = "carriers"

    def pedigree(self) -> Pedigree:
        """Generate it."""
        return generate(
            self.animals,
            collections=self.collections,
            loci=self.loci,
            seed=self.seed,
            uncertain=self.uncertain,
        )


@dataclass(frozen=True)
class Outcome:
    """What a process of its own reported: seconds (median after warm-up) and peak MiB."""

    seconds: float | None = None
    peak: float | None = None
    failure: str | None = None


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """Seconds and result of one call."""
    gc.collect()
    begun = perf_counter()
    result = work()
    return perf_counter() - begun, result


def alone(work: Callable[[], object], repeats: int = 5) -> float:
    """Median seconds after one call to warm up."""
    work()
    return median(timed(work)[0] for _ in range(repeats))


def paired(
    ours: Callable[[], object], rival: Callable[[], object], repeats: int
) -> tuple[float, float]:
    """Median seconds of both, called in turn after one call each to warm up."""
    ours()
    rival()
    times = [(timed(ours)[0], timed(rival)[0]) for _ in range(repeats)]
    return median(a for a, _ in times), median(b for _, b in times)


def apart(side: Side, spec: Spec, repeats: int = 1) -> Outcome:
    """Build and solve in a process of its own, on one core, memory and time capped."""
    request = json.dumps({"side": side, "repeats": repeats, **asdict(spec)})
    command = [sys.executable, "-m", "tests.benchmarks.measure", request]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=TIME_CAP)
    except subprocess.TimeoutExpired:
        return Outcome(failure=f"over {TIME_CAP:.0f} s")
    if done.returncode:
        return Outcome(failure=f"ended with status {done.returncode}")
    return Outcome(**json.loads(done.stdout))


def _work_of(side: Side, pedigree: Pedigree) -> Callable[[], object]:
    if side == "engine":
        from tests.benchmarks import engine

        engine.warm_up()
        rows = engine.records(pedigree)
        return lambda: engine.solve_rows(rows)
    from tests.benchmarks import rivals

    return lambda: rivals.PlainNetwork(pedigree).posteriors()


def _peak() -> float:
    """Peak resident MiB of this process since it began its program."""
    with open("/proc/self/status", encoding="ascii") as lines:
        line = next(line for line in lines if line.startswith("VmHWM"))
    return int(line.split()[1]) / 1024


def _child(request: dict[str, Any]) -> Outcome:
    side, repeats = request.pop("side"), request.pop("repeats")
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_CAP, MEMORY_CAP))
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    work = _work_of(side, Spec(**request).pedigree())
    try:
        if repeats > 1:
            work()
        seconds = median(timed(work)[0] for _ in range(repeats))
    except Exception as error:  # the library raises a bare one
        if isinstance(error, MemoryError) or "bad_alloc" in str(error):
            return Outcome(failure=f"out of memory ({MEMORY_CAP >> 30} GiB)")
        raise
    return Outcome(seconds, _peak())


if __name__ == "__main__":
    print(json.dumps(asdict(_child(json.loads(sys.argv[1])))))
