"""The customary figure: what the parents alone give, with the animal's own look.

It is what the trade writes beside an animal (66 %, 50 %, 33 %): Mendel from the parents' figures,
as if the parents were independent, and that the animal itself does or does not show the trait. The
parents' figures are those of the book without this animal and its descendants, or its look would
count twice; what its sibs showed, and whoever is certain beside it, is in them. Its own young and
its tests count only in the tested figure. For a founder it is what its source said.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import cast

import genetics
from keeper.domain.inference.reading.asked_traits import LABORATORY, PAPERS, WORD
from keeper.domain.inference.reading.engine_book import EngineBook, parent_code
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.keys_of import couple
from keeper.domain.inference.reading.rows import AnimalRow, Rows
from keeper.domain.inference.standings.copies import TraitLine, Whose, counted, ids
from keeper.domain.inference.walking.kin import ancestors


def customary(
    inheritance: Inheritance,
    rows: Rows,
    book: EngineBook,
    solved: "genetics.Solved",
    wanted: Iterable[int],
) -> dict[Whose, float]:
    """Return the customary chance of carrying for the animals wanted."""
    animals = {rows.animals[pk].code: rows.animals[pk] for pk in sorted(wanted)}
    lines = {line for group in book.groups for line in group.lines}
    stays = inheritance.retained(frozenset(pk for group in book.groups for pk in group.loci))
    alone = genetics.by_parents_alone(
        solved,
        book.population,
        animals,
        counted(inheritance, rows, book.groups),
        unseen=laboratories(book.population),
        # By the rows: whoever is held to be certain stands in the population without parents.
        parents={code: _couples(rows, one, lines, stays) for code, one in animals.items()},
        ancestry=lambda codes: _ancestry(rows, [animals[code].pk for code in codes]),
    )
    return customary_of(alone, ids(rows, book.groups))


def _ancestry(rows: Rows, pks: Collection[int]) -> dict[str, set[str]]:
    rows.with_ancestors(pks)
    return {
        rows.animals[pk].code: {rows.animals[one].code for one in ancestors(rows, pk)} for pk in pks
    }


def customary_of(alone: "genetics.Alone | None", ids: Mapping[str, int]) -> dict[Whose, float]:
    """What the engine counted by the parents alone, by ids of rows."""
    found: dict[Whose, float] = {}
    if alone is None:
        return found
    for animal, label, two, one, none, _, _ in alone.copies.rows():
        trait, line = cast("TraitLine", label)
        carries = two + one if none else 1.0
        for like in alone.stands_for[animal]:
            found[ids[like], trait, line] = carries
    return found


def laboratories(population: "genetics.Population") -> frozenset[str]:
    """What only a laboratory looked for or a source said: the trade's figure leaves it out."""
    asked = (LABORATORY, WORD, PAPERS)
    return frozenset(one.id for one in population.traits if one.id.startswith(asked))


def _couples(
    rows: Rows, one: AnimalRow, lines: set[int], stays: "genetics.Retained"
) -> "tuple[genetics.Couple, ...]":
    """The couples that an animal may be of, by its rows."""
    if rows.arisen.get(one.pk, {}).keys() & lines:
        return ()
    if one.clutch is None:
        if not (one.dam or one.sire):
            return ()
        return (couple(parent_code(rows, one.dam), parent_code(rows, one.sire), 1, 0),)
    clutch = rows.clutches[one.clutch]
    dam = parent_code(rows, clutch.dam)
    return tuple(couple(dam, parent_code(rows, sire), share, stays) for sire, share in clutch.sires)
