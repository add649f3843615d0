"""Pieces of looks that combinations show: each animal's chance of showing one, and of the whole."""

from collections.abc import Collection, Hashable, Iterable, Mapping
from math import prod
from typing import NamedTuple, cast

import genetics
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.reading.shown_looks import (
    LookKey,
    PieceName,
    ShownLook,
    deciding_traits,
    group_name,
    seen_of_expressed,
)
from keeper.domain.inference.standings.copies import unsure

# Chances that differ by less are the same: rounding of sums.
_SAME = 1e-9


class Piece(NamedTuple):
    """How likely an animal shows a piece, half the width of the interval, and any dispute."""

    chance: float
    error: float = 0.0
    disputed: bool = False


# Animal and piece → what is known of it; no entry: it cannot show it.
SeenPieces = dict[tuple[int, PieceName], Piece]


def pieces(
    inheritance: Inheritance,
    rows: Rows,
    ids: Mapping[str, int],
    looks: Iterable[ShownLook],
    asked: "Iterable[genetics.LookAsked]",
    shown: "Iterable[genetics.LookChance]",
    disputed: Collection[tuple[int, int]] = (),
) -> SeenPieces:
    """What the engine found, by ids of rows (`ids`, by the animals' codes).

    `disputed` are animals and traits under dispute.
    """
    shown = list(shown)
    if not shown:
        return {}
    by_key = {look.key: look for look in looks}
    deciding = {key: deciding_traits(inheritance, look) for key, look in by_key.items()}
    found: SeenPieces = {}
    for one in shown:
        name, pk = _named(one.label), ids[one.animal]
        traits = _traits(by_key[name.key], name)
        seen = seen_of_expressed(inheritance, rows, pk, traits)
        here = deciding[name.key] & _decided(by_key[name.key], name)
        doubted = any((pk, trait) in disputed for trait in here)
        chance = one.chance if seen == 1 else unsure(one.chance * seen)
        if chance > 0:
            found[pk, name] = Piece(chance, one.error, doubted)
    for joint in asked:
        _settle_joint(found, _named(joint.label), [ids[code] for code in joint.animals])
    return found


def _named(label: Hashable) -> PieceName:
    """The piece that the engine was asked for by this label."""
    return PieceName(*cast("tuple[LookKey, frozenset[int]]", label))


def _settle_joint(found: SeenPieces, name: PieceName, animals: Iterable[int]) -> None:
    """Keep what several groups show together only where it says more than each of them does."""
    if len(name.groups) < 2:
        return
    for pk in animals:
        each = [found.get((pk, PieceName(name.key, frozenset({one})))) for one in name.groups]
        together = found.pop((pk, name), Piece(0.0))
        there = [one for one in each if one is not None]
        if len(there) == len(each):
            chance = prod(one.chance for one in there)
            if abs(chance - together.chance) > _SAME or (chance == 1) != (together.chance == 1):
                found[pk, name] = together


def _decided(look: ShownLook, name: PieceName) -> frozenset[int]:
    """The traits that are decided in the groups of a piece."""
    groups = (group for group in look.parts if group_name(group) in name.groups)
    return frozenset().union(*(group.traits for group in groups))


def _traits(look: ShownLook, name: PieceName) -> set[int]:
    here = [parts for group, parts in look.parts.items() if group_name(group) in name.groups]
    return {part.trait for parts in here for part in parts}


def whole(look: ShownLook, known: Mapping[frozenset[int], Piece]) -> Piece:
    """A look by its pieces, a group each, or several together; without one it cannot be shown."""
    if any(frozenset({group_name(group)}) not in known for group in look.parts):
        return Piece(0.0)
    joint = frozenset().union(*(groups for groups in known if len(groups) > 1))
    used = [one for groups, one in known.items() if len(groups) > 1 or not groups & joint]
    certain = all(one.chance == 1 for one in used)
    return Piece(
        1.0 if certain else unsure(prod(one.chance for one in used)),
        min(1.0, sum(one.error for one in used)),
        any(one.disputed for one in used),
    )
