"""The only bridge between the book's rows and the genetics that answers for them.

Writes call `refresh` (through `keeper.domain.writing`); pages ask `pairing`, `grounds`,
`goal_chances`, `pair_goal`, `kinships`; commands ask `recompute`, `differences`, `case_file`.
"""

from collections.abc import Iterable, Sequence
from typing import Any

from keeper.domain.inference.results import (
    Copies,
    Difference,
    GoalChance,
    Ground,
    Grounds,
    Look,
    Mixing,
    Pairing,
    WorkingStep,
)
from keeper.domain.touched import Touched
from keeper.models import Animal, Clutch, DaybookEntry, Line, Project, Trait


def refresh(touched: Touched, *, entry: DaybookEntry) -> None:
    """Bring the standings up to date."""


def pairing(dam: Animal, sire: Animal | None, *, eggs: Sequence[int] = (1, 4, 8, 16)) -> Pairing:
    """What can be seen on the young of two animals, and what they may carry.

    Raises:
        Unanswerable: the records about these two cannot all be true.
    """
    raise NotImplementedError


def clutch_looks(clutch: Clutch) -> Pairing:
    """The same for a clutch, over all of its candidate sires; for its hatch day."""
    raise NotImplementedError


def goal_chances(project: Project, animals: Iterable[Animal]) -> dict[int, float]:
    """Chance by animal id that it meets all parts of the goal itself (sex apart)."""
    raise NotImplementedError


def pair_goal(
    project: Project, dam: Animal, sire: Animal, *, eggs: Sequence[int] = (4, 8, 16)
) -> GoalChance:
    """How likely a hatchling of the two meets the goal, its sex included if the goal names one."""
    raise NotImplementedError


def grounds(animal: Animal, trait: Trait, line: Line | None = None) -> Grounds:
    """The evidence behind one standing, each piece weighed by leaving it out."""
    raise NotImplementedError


def kinships(pairs: Sequence[tuple[Animal, Animal]]) -> list[float]:
    """Wright's coefficient of kinship of each pair."""
    raise NotImplementedError


def recompute(*, entry: DaybookEntry) -> None:
    """Compute every standing of the book anew."""


def differences() -> list[Difference]:
    """Every stored standing that a whole recompute would not give; the book is left as it is."""
    raise NotImplementedError


def case_file(animal: Animal) -> dict[str, Any]:
    """The animal's family as a case file of the engine's contract, by the keeper's own codes."""
    raise NotImplementedError


class Unanswerable(Exception):
    """The records that a question rests on cannot all be true; `conflict` lists them in words."""

    def __init__(self, message: str, conflict: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.conflict = tuple(conflict)


__all__ = [
    "Copies",
    "Difference",
    "GoalChance",
    "Ground",
    "Grounds",
    "Look",
    "Mixing",
    "Pairing",
    "Unanswerable",
    "WorkingStep",
    "case_file",
    "clutch_looks",
    "differences",
    "goal_chances",
    "grounds",
    "kinships",
    "pair_goal",
    "pairing",
    "recompute",
    "refresh",
]
