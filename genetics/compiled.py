"""One source for every inner loop, run compiled or interpreted.

The loops in `genetics.kernels` are plain Python over arrays.  Numba compiles them once (cached
beside the source); importing it costs half a second, so a small case on the command line runs the
same functions interpreted.  `warm_up` compiles ahead, for servers and benchmarks.
"""

from __future__ import annotations

from types import FunctionType, SimpleNamespace
from typing import TypeVar, cast

from genetics.kernels.protocols import Loops

AnyLoops = TypeVar("AnyLoops", bound=Loops)

_loaded: dict[str, Loops] = {}
_state = {"always": False}
WORTH_COMPILING = 60_000
"""Work units (about table cells) above which loading the compiled loops pays."""


def loops(module: AnyLoops, work: float) -> AnyLoops:
    """The functions of a kernel module: compiled if warmed up or the work is worth it."""
    if _name(module) not in _loaded and not _state["always"] and work < WORTH_COMPILING:
        return module
    return _compile_once(module)


def compile_always() -> None:
    """Run every later loop compiled, whatever its size."""
    _state["always"] = True


def warm_up() -> None:
    """Compile or load all loops ahead of the first request, by solving a small population.

    Every later call runs compiled.  The first time on a machine takes about a minute.
    """
    compile_always()
    from genetics.copies import Count, Counted
    from genetics.parents_alone import by_parents_alone
    from genetics.plans.forecast import forecast
    from genetics.plans.questions import ForecastQuestion
    from genetics.population import Animal, Clutch, Couple, Goal, Locus, Population, TallyLine
    from genetics.solving import solve

    population = Population(
        loci=(Locus("a", ("+", "a")),),
        animals=(
            Animal("D", sex="female", founder={"a": {"+/+": 0.5, "+/a": 0.5}}),
            Animal("S", sex="male", founder={"a": {"+/a": 1}}),
            Animal("K", sex="female", dam="D", sire="S"),
            Animal("L", dam="K", sire="S"),
        ),
        clutches=(Clutch("C", (Couple("D", "S"),), tally=(TallyLine(2),)),),
    )
    solved = solve(population)
    solve(population, narrow=3.0)
    by_parents_alone(solved, population, ["K"], [Counted(("K",), (Count(0, "a", frozenset("a")),))])
    goal = Goal(genotypes={"a": ("a/a",)})
    forecast(solved, ForecastQuestion(goal, {"D": 3, "S": 3}, 8, ((1, 1),), runs=1))


def _name(module: Loops) -> str:
    return str(vars(module)["__name__"])


def _compile_once(module: AnyLoops) -> AnyLoops:
    name = _name(module)
    if name not in _loaded:
        from numba import njit

        scope = dict(vars(module))
        found = SimpleNamespace()
        for function in cast("tuple[FunctionType, ...]", module.KERNELS):
            copy = FunctionType(function.__code__, scope, function.__name__, function.__defaults__)
            copy.__qualname__ = function.__qualname__
            copy.__module__ = function.__module__
            scope[function.__name__] = njit(cache=True, error_model="numpy", nogil=True)(copy)
            setattr(found, function.__name__, scope[function.__name__])
        _loaded[name] = cast("Loops", found)
    return cast("AnyLoops", _loaded[name])
