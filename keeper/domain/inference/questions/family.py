"""Kinship by the pedigree, uncertain parents as likely as all that hatched says."""

from collections.abc import Sequence

import genetics
from keeper.domain.inference.descent.lineage import lineage
from keeper.domain.inference.reading.rows import Rows
from keeper.domain.inference.walking.reached import ReachedRows
from keeper.models import Animal, Species


def kinships(pairs: Sequence[tuple[Animal, Animal]]) -> list[float]:
    """Wright's coefficient of kinship of each pair; founders are taken as unrelated.

    Where a clutch has several candidates it is the expectation over them, by all that hatched.
    """
    found: dict[int, float] = {}
    for species in {a.species for a, _ in pairs}:
        here = [i for i, (a, b) in enumerate(pairs) if a.species_id == b.species_id == species.pk]
        values = _among(species, ReachedRows(species.pk), [pairs[i] for i in here])
        found |= dict(zip(here, values, strict=True))
    # Animals of two species are no kin.
    return [found.get(i, 0.0) for i in range(len(pairs))]


def kinship_of(rows: Rows, dam: Animal, sire: Animal | None) -> float:
    """Return the kinship of a pair of one species; a male not recorded is no kin."""
    return 0.0 if sire is None else _among(dam.species, rows, [(dam, sire)])[0]


def _among(species: Species, rows: Rows, pairs: Sequence[tuple[Animal, Animal]]) -> list[float]:
    animals = {one.pk for pair in pairs for one in pair}
    rows.with_ancestors(animals)
    made = lineage(species, rows, animals, ())
    places = [(made.number[a.pk], made.number[b.pk]) for a, b in pairs]
    return [float(value) for value in genetics.kinship_pairs(made.pedigree, places)]
