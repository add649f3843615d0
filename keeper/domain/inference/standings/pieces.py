"""Pieces of looks that combinations show: each animal's chance of showing one, and of the whole."""

from collections.abc import Collection, Iterable, Mapping
from math import prod
from typing import NamedTuple, cast

import genetics
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.reading.shown_looks import (
    PieceName,
    ShownLook,
    deciding_traits,
    group_name,
    seen_of_expressed,
)
from keeper.domain.inference.standings.copies import unsure


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
        name, pk = cast("PieceName", one.label), ids[one.animal]
        traits = _traits(by_key[name.key], name)
        seen = seen_of_expressed(inheritance, rows, pk, traits)
        doubted = any((pk, trait) in disputed for trait in deciding[name.key])
        chance = one.chance if seen == 1 else unsure(one.chance * seen)
        if chance > 0:
            found[pk, name] = Piece(chance, one.error, doubted)
    return found


def _traits(look: ShownLook, name: PieceName) -> set[int]:
    here = [parts for group, parts in look.parts.items() if group_name(group) in name.groups]
    return {part.trait for parts in here for part in parts}


def whole(look: ShownLook, known: Mapping[frozenset[int], Piece]) -> Piece:
    """A look by its pieces, which are independent; without one of them it cannot be shown."""
    every = frozenset(map(group_name, look.parts))
    if frozenset().union(*known) != every:
        return Piece(0.0)
    chances = [one.chance for one in known.values()]
    certain = all(chance == 1 for chance in chances)
    return Piece(
        1.0 if certain else unsure(prod(chances)),
        min(1.0, sum(one.error for one in known.values())),
        any(one.disputed for one in known.values()),
    )
