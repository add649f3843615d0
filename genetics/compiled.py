"""One source for every inner loop, run compiled or interpreted.

The loops in `genetics.kernels` are plain Python over arrays.  Numba compiles them once (cached
beside the source); importing it costs half a second, so a small case on the command line runs the
same functions interpreted.  `warm_up` compiles ahead, for servers and benchmarks.
"""

from __future__ import annotations

from types import FunctionType, ModuleType, SimpleNamespace
from typing import Any

_loaded: dict[str, SimpleNamespace] = {}
_state = {"always": False}
WORTH_COMPILING = 3_000
"""Work units (about table cells) above which loading the compiled loops pays."""


def loops(module: ModuleType, work: float) -> Any:
    """The functions of a kernel module: compiled if warmed up or the work is worth it."""
    name = module.__name__
    if name in _loaded:
        return _loaded[name]
    if not _state["always"] and work < WORTH_COMPILING:
        return module
    return _compile(module)


def compile_always() -> None:
    """Run every later loop compiled, whatever its size."""
    _state["always"] = True


def _compile(module: ModuleType) -> SimpleNamespace:
    from numba import njit

    scope = dict(module.__dict__)
    found = SimpleNamespace()
    for function in module.KERNELS:
        copy = FunctionType(function.__code__, scope, function.__name__, function.__defaults__)
        copy.__qualname__ = function.__qualname__
        copy.__module__ = function.__module__
        scope[function.__name__] = njit(cache=True, error_model="numpy", nogil=True)(copy)
        setattr(found, function.__name__, scope[function.__name__])
    _loaded[module.__name__] = found
    return found
