"""Every set of pairs that a season allows, tried one by one; written from the contract alone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

Pair = tuple[str, str]


def worth_of(question: dict[str, Any]) -> dict[Pair, float]:
    return {
        (female, male): question["worth"][i][j]
        for i, female in enumerate(question["females"])
        for j, male in enumerate(question["males"])
    }


def plans(question: dict[str, Any], kin: dict[Pair, float]) -> Iterator[frozenset[Pair]]:
    """Yield each set of pairs that may be made and has all that are fixed."""
    worth = worth_of(question)
    fixed = {tuple(pair) for pair in question.get("fixed", [])}
    forbidden = {tuple(pair) for pair in question.get("forbidden", [])}
    most_kin = question.get("kinship", 1)

    def may(pair: Pair) -> bool:
        if pair in fixed:
            return True
        return pair not in forbidden and worth[pair] >= 0 and kin.get(pair, 0) <= most_kin

    def rest(females: list[str], used: dict[str, int]) -> Iterator[frozenset[Pair]]:
        if not females:
            yield frozenset()
            return
        first, *others = females
        yield from rest(others, used)
        for male in question["males"]:
            if may((first, male)) and used.get(male, 0) < question.get("matings", 1):
                for more in rest(others, {**used, male: used.get(male, 0) + 1}):
                    yield more | {(first, male)}

    for plan in rest(question["females"], {}):
        if fixed <= plan and len(plan) <= question.get("clutches", len(plan)):
            yield plan


def best(question: dict[str, Any], kin: dict[Pair, float]) -> float:
    """Return the greatest worth in all."""
    worth = worth_of(question)
    return max(sum(worth[pair] for pair in plan) for plan in plans(question, kin))
