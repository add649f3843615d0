"""Ancestors for paper, as a chart and as a list by generation: who they are, nothing of genes."""

from collections.abc import Iterator
from typing import Any

from keeper.domain.pedigree.kin import Kin
from keeper.models import Animal

# Parents have a place of their own on a sheet.
_CALLED = ("Grandparents", "Great-grandparents")
# In place of the id of a candidate that is not recorded.
_ANOTHER = 0


def older_ancestors(animal: Animal) -> list[dict[str, str]]:
    """Return grandparents and their parents as plain data: `generation`, `who`.

    Each is named by its way, "dam's sire G-1"; one who is an ancestor twice is named twice, and one
    who may be, as a possible one.
    """
    kin = Kin()
    kin.take([animal.pk])
    kin.climb([animal.pk], len(_CALLED) + 1)
    rows = []
    last = _parents_of(kin, animal.pk, "")
    for called in _CALLED:
        last = [one for way, pk in last for one in _parents_of(kin, pk, f"{way}'s ")]
        if last:
            who = ", ".join(f"{way} {kin.animals[pk].code}" for way, pk in last)
            rows.append({"generation": called, "who": who})
    return rows


def chart(animal: Animal) -> dict[str, Any]:
    """Return three generations of ancestors as a table of cells, as plain data.

    `generations`: 2 or 3; 0 where no grandparent is recorded: nothing is drawn then. `cells`: in
    the order of reading, row by row: `generation`, `span` rows, `wide` columns, `role`, `sex`,
    and `who`, which is empty where one of two is not recorded. The sire stands above the dam. If
    several may be the sire all are named. Where neither parent is recorded, and above several, one
    cell without a `role` stands for all that could be there.
    """
    kin = Kin()
    kin.take([animal.pk])
    kin.climb([animal.pk], len(_CALLED) + 1)
    deepest = _deepest(kin, animal.pk)
    if deepest < 2:
        return {"generations": 0, "cells": []}
    return {"generations": deepest, "cells": list(_cells(kin, animal.pk, 1, deepest))}


def _deepest(kin: Kin, animal: int | None, generation: int = 0) -> int:
    """Return the last generation in which somebody is drawn."""
    if generation == len(_CALLED) + 1:
        return generation
    couple = [those for _, _, those in _couple(kin, animal) if those]
    above = [_deepest(kin, _alone(those), generation + 1) for those in couple]
    return max([generation, *above])


def _cells(kin: Kin, animal: int | None, generation: int, deepest: int) -> Iterator[dict[str, Any]]:
    """Yield the cells of an animal's ancestors."""
    if generation > deepest:
        return
    couple = _couple(kin, animal)
    span = 2 ** (deepest - generation)
    cell = {"generation": generation, "span": span, "wide": 1}
    if not any(those for _, _, those in couple):
        wide = {"span": 2 * span, "wide": deepest - generation + 1}
        yield cell | wide | {"role": "", "sex": "", "who": ""}
        return
    for role, sex, those in couple:
        yield cell | {"role": role, "sex": sex, "who": " or ".join(those.values())}
        yield from _cells(kin, _alone(those), generation + 1, deepest)


def _couple(kin: Kin, animal: int | None) -> list[tuple[str, str, dict[int, str]]]:
    """Sires and dam of an animal: role, sex, and the codes of those that are recorded, by id."""
    parents = kin.parents.get(animal) if animal is not None else None
    if parents is None:
        return []
    sires = {
        one.sire: kin.animals[one.sire].code for one in parents.sires if one.sire in kin.animals
    }
    role = "sire"
    if len(parents.sires) > 1:
        role = "possible sires"
        if len(sires) < len(parents.sires):
            sires[_ANOTHER] = "another"
    dams = {parents.dam: kin.animals[parents.dam].code} if parents.dam in kin.animals else {}
    return [(role, "male", sires), ("dam", "female", dams)]


def _alone(those: dict[int, str]) -> int | None:
    """The only one; None of several, above whom nobody is drawn."""
    return next(iter(those)) if len(those) == 1 else None


def _parents_of(kin: Kin, animal: int, before: str) -> list[tuple[str, int]]:
    """Dam and sires with the way to each."""
    parents = kin.parents.get(animal)
    if parents is None:
        return []
    sire = "possible sire" if len(parents.sires) > 1 else "sire"
    ways = [(f"{before}dam", parents.dam)]
    ways += [(f"{before}{sire}", one.sire) for one in parents.sires]
    return [(way, pk) for way, pk in ways if pk is not None and pk in kin.animals]
