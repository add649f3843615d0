"""A part of a book to be solved by itself, here or by a worker elsewhere, and its answer.

    packet = pack([Subproblem(population, counted, young), ...])    # bytes
    answers = unpack_answers(answer_packet(packet))                 # anywhere: it is all there is

What is in a subproblem decides its answer: equal subproblems have equal answers, to the last bit.
"""

from __future__ import annotations

import copyreg
import hashlib
import pickle
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cache
from io import BytesIO
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from genetics.copies import Copies, Counted, count_copies
from genetics.errors import BeyondExact, GeneticsError, ImpossibleEvidence
from genetics.parents_alone import Alone, by_parents_alone
from genetics.population import NOTHING, Animal, Clutch, Couple, Population
from genetics.shown import LookAsked, LookChance, look_chances
from genetics.solving import CELLS, SHARED_CELLS, solve


class AnotherEngine(GeneticsError):
    """A worker runs another version of the engine, whose figures may differ in the last places."""


@dataclass(frozen=True)
class Subproblem:
    """What is to be solved, whose copies of what are to be counted, and which looks are asked for.

    Of those who may have a copy the parents alone are asked too; `unseen` names traits that are not
    looked at there; `apart` says that words that shared a trust were taken apart.
    """

    population: Population
    counted: tuple[Counted, ...]
    unseen: frozenset[str] = frozenset()
    apart: bool = False
    looks: tuple[LookAsked, ...] = ()


class Answer(NamedTuple):
    """Copies and looks by everything known; copies by the parents alone, if they can give them.

    `apart` marks an approximation: words that share a trust tied too much together, so that those
    on each animal were weighed by themselves (`Population.words_apart`).
    """

    copies: Copies
    alone: Alone | None
    apart: bool = False
    looks: tuple[LookChance, ...] = ()


def answered(one: Subproblem) -> Answer | None:
    """Solve a subproblem; None if its evidence cannot all be true.

    Raises:
        BeyondExact: it is too large, also with words that share a trust taken apart.
    """
    tied = bool(one.population.columns.told) and not one.apart
    try:
        return _answered(one, tied=tied)
    except ImpossibleEvidence:
        return None
    except BeyondExact:
        if not tied:
            raise
        return answered(replace(one, population=one.population.words_apart(), apart=True))


def _answered(one: Subproblem, *, tied: bool) -> Answer:
    solved = solve(one.population, limit=SHARED_CELLS if tied else CELLS, exact_only=tied)
    copies = count_copies(solved, one.counted)
    shown = look_chances(solved, one.looks)
    carrying = {copies.animals[i] for i in set(copies.animal.tolist())}
    young = [each for each in one.population.animal_index if each in carrying]
    alone = by_parents_alone(solved, one.population, young, one.counted, unseen=one.unseen)
    return Answer(copies, alone, one.apart, shown)


# --- to a worker and back -------------------------------------------------------------------------


def pack(questions: Sequence[object]) -> bytes:
    """Subproblems or scenarios as bytes; records that they share are written once."""
    out = BytesIO()
    pickler = pickle.Pickler(out, protocol=5)
    pickler.dispatch_table = copyreg.dispatch_table | {
        MappingProxyType: _mapping, Population: _fields,
    }  # fmt: skip
    pickler.dump(tuple(questions))
    return out.getvalue()


def answer_packet(packet: bytes, engine: str = "") -> bytes:
    """The answers of packed subproblems, packed; `engine` is whose figures are wanted.

    A packet runs what is in it, as pickles do: take none from strangers.

    Raises:
        AnotherEngine: this is not the engine that is wanted.
    """
    check_engine(engine)
    found = [answered(one) for one in pickle.loads(packet)]
    return pickle.dumps(found, protocol=5)


def check_engine(engine: str) -> None:
    """Make sure that this is the engine whose figures are wanted, if one is named.

    Raises:
        AnotherEngine: it is not.
    """
    if engine and engine != fingerprint():
        raise AnotherEngine("this worker's engine is not the one that asks")


def unpack_answers(packet: bytes) -> list[Answer | None]:
    """Answers that a worker packed, in the order of their subproblems."""
    found: list[Answer | None] = pickle.loads(packet)
    return found


@cache
def fingerprint() -> str:
    """What two engines must have in common to agree to the last bit: source and libraries."""
    import platform

    import numba
    import numpy
    import scipy

    libraries = (numpy.__version__, scipy.__version__, numba.__version__, platform.machine())
    digest = hashlib.sha256(repr(libraries).encode())
    folder = Path(__file__).parent
    for path in sorted(folder.rglob("*.py")):
        digest.update(path.relative_to(folder).as_posix().encode() + b"\n" + path.read_bytes())
    return digest.hexdigest()


def _mapping(one: MappingProxyType[str, Any]) -> tuple[Any, ...]:
    return (_nothing, ()) if one is NOTHING else (MappingProxyType, (dict(one),))


def _nothing() -> Any:
    return NOTHING


def _fields(one: Population) -> tuple[Any, ...]:
    """The records alone, field by field, without what was worked out from them."""
    values = {field.name: getattr(one, field.name) for field in fields(one)}
    values["animals"] = tuple(zip(*one.animals, strict=True))
    values["clutches"] = tuple(
        (clutch.id, tuple(map(tuple, clutch.candidates)), *clutch[2:]) for clutch in one.clutches
    )
    return _checked, tuple(values.items())


def _checked(*values: tuple[str, Any]) -> Population:
    """A population that was checked where it was made."""
    made = object.__new__(Population)
    for name, value in values:
        object.__setattr__(made, name, value)
    animals = tuple(map(Animal._make, zip(*made.animals, strict=True)))
    clutches = tuple(
        Clutch(clutch.id, tuple(map(Couple._make, clutch.candidates)), *clutch[2:])
        for clutch in map(Clutch._make, made.clutches)
    )
    object.__setattr__(made, "animals", animals)
    object.__setattr__(made, "clutches", clutches)
    return made
