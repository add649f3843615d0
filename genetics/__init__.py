"""Exact inference of what animals carry, from a whole book of pedigrees and observations.

    population = Population(loci=..., animals=..., clutches=...)   # checks itself
    solved = solve(population)                                     # every number at once
    solved.posterior("K1", "sg")                                   # {'+/+': 0.33, ...}
    solved.changed(animals=[...], clutches=[...])                  # a clutch later

Names are loaded when they are first used, so that importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOME = {
    "animal_table": ("AnimalTable",),
    "population": (
        "Animal", "Case", "Clutch", "Couple", "FounderRow", "Goal", "Interval", "JointQuestion",
        "Linkage", "Locus", "OffspringQuestion", "Population", "Questions", "SameLocus",
        "Sighting", "TallyLine", "Trait", "Viability",
    ),
    "solving": ("Solved", "solve"),
    "answers": ("answer",),
    "copies": ("Copies", "Count", "Counted", "count_copies"),
    "parents_alone": ("Alone", "by_parents_alone"),
    "subproblems": (
        "AnotherEngine", "Answer", "Subproblem", "answer_packet", "answered", "fingerprint", "pack",
        "unpack_answers",
    ),
    "casefile": ("answer_case", "read_case", "write_case"),
    "compiled": ("warm_up",),
    "errors": ("BeyondExact", "GeneticsError", "ImpossibleEvidence", "MalformedCase"),
}  # fmt: skip
_MODULE_OF = {name: module for module, names in _HOME.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module 'genetics' has no attribute {name!r}")
    return getattr(import_module(f"genetics.{_MODULE_OF[name]}"), name)
