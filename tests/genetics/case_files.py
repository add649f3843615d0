"""The worked case files, and small ways to change a case."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

CASES = Path(__file__).parents[2] / "fixtures" / "cases"

Step = str | int
Where = tuple[Step, ...]

SCALARS: tuple[Any, ...] = (
    None,
    True,
    False,
    0,
    1,
    -1,
    2,
    0.5,
    1.0,
    1e308,
    10**30,
    "",
    "2/3",
    "1/0",
    "-1/2",
    " 1/2",
    "1/2\n",
    "0.5",
    "+/+",
    "+/har",
    "*",
    "female",
    "male",
    "unknown",
    "XY",
    "\ud800",
    "a" * 300,
)


def worked_case(name: str) -> dict[str, Any]:
    """One of the worked cases."""
    case: dict[str, Any] = json.loads((CASES / f"{name}.json").read_text(encoding="utf-8"))
    return case


def worked_names() -> list[str]:
    """The names of all worked cases."""
    return sorted(path.stem for path in CASES.glob("*.json"))


def places(value: Any, here: Where = ()) -> Iterator[Where]:
    """The path of every value below."""
    steps = value.items() if isinstance(value, dict) else enumerate(value)
    for step, below in steps:
        yield (*here, step)
        if isinstance(below, dict | list):
            yield from places(below, (*here, step))


def at(value: Any, where: Where) -> Any:
    """The value at a path."""
    for step in where:
        value = value[step]
    return value


def mutated(case: dict[str, Any], random: Random) -> Any:
    """A copy of a case with one to three changes somewhere."""
    changed: Any = copy.deepcopy(case)
    for _ in range(random.choice((1, 1, 1, 2, 3))):
        if not isinstance(changed, dict | list) or not changed:
            return changed
        paths = list(places(changed))
        where = random.choice(paths)
        changed = _change(changed, where, at(changed, random.choice(paths)), random)
    return changed


def random_json(random: Random, depth: int = 3) -> Any:
    """Any JSON value, with the words of case files among its names."""
    kind = random.randrange(4) if depth else 0
    if kind < 2:
        return random.choice(SCALARS)
    if kind == 2:
        return [random_json(random, depth - 1) for _ in range(random.randrange(4))]
    names = ("case", "loci", "animals", "id", "alleles", "dam", "shows", "sg", "p", "ask", "x")
    return {
        random.choice(names): random_json(random, depth - 1) for _ in range(random.randrange(5))
    }


def _change(value: Any, where: Where, other: Any, random: Random) -> Any:
    parent: Any = at(value, where[:-1])
    step: Any = where[-1]
    kind = random.randrange(6)
    if kind == 0:
        del parent[step]
    elif kind == 1:
        parent[step] = random.choice(SCALARS)
    elif kind == 2:
        parent[step] = copy.deepcopy(other)
    elif kind == 3:
        parent[step] = random_json(random)
    elif isinstance(parent, list):
        parent.insert(random.randrange(len(parent) + 1), copy.deepcopy(parent[step]))
    elif kind == 4:
        parent[str(step)[:-1] or "x"] = parent.pop(step)
    else:
        number = parent[step]
        exact = isinstance(number, int | float)
        parent[step] = number * random.choice((0, -1, 0.99, 3)) if exact else [number]
    return value
