"""Kinship from the pedigree alone."""

from collections.abc import Sequence

import genetics
from keeper.domain.inference.reading.engine_book import clutch_ids, parent_code
from keeper.domain.inference.reading.reached import ReachedRows
from keeper.domain.inference.reading.rows import Rows
from keeper.models import Animal


def kinships(pairs: Sequence[tuple[Animal, Animal]]) -> list[float]:
    """Return Wright's coefficient of kinship of each pair; founders are taken as unrelated."""
    found: dict[int, float] = {}
    for species in {a.species_id for a, _ in pairs}:
        here = [i for i, (a, b) in enumerate(pairs) if a.species_id == b.species_id == species]
        values = _among(ReachedRows(species), [pairs[i] for i in here])
        found |= dict(zip(here, values, strict=True))
    # Animals of two species are no kin.
    return [found.get(i, 0.0) for i in range(len(pairs))]


def kinship_of(rows: Rows, dam: Animal, sire: Animal | None) -> float:
    """Return the kinship of a pair of one species; a male not recorded is no kin."""
    return 0.0 if sire is None else _among(rows, [(dam, sire)])[0]


def _among(rows: Rows, pairs: Sequence[tuple[Animal, Animal]]) -> list[float]:
    population = _ancestors(rows, {one.pk for pair in pairs for one in pair})
    index = population.animal_index
    codes = rows.animals
    places = [(index[codes[a.pk].code], index[codes[b.pk].code]) for a, b in pairs]
    return [float(value) for value in genetics.kinship_pairs(genetics.pedigree(population), places)]


def _ancestors(rows: Rows, animals: set[int]) -> genetics.Population:
    """The animals and all their ancestors as a population without genes of interest."""
    rows.with_ancestors(animals)
    inside, waiting = set(animals), set(animals)
    while waiting:
        above = {parent for pk in waiting for parent in rows.parents(rows.animals[pk])}
        waiting = above - inside
        inside |= waiting
    own = {rows.animals[pk].clutch for pk in inside}
    clutches = clutch_ids(rows, inside, sorted(pk for pk in own if pk is not None))

    def code(pk: int | None) -> str | None:
        return parent_code(rows, pk)

    animals_made = []
    for pk in sorted(inside):
        one = rows.animals[pk]
        if one.clutch is not None:
            made = genetics.Animal(id=one.code, sex=one.sex, clutch=clutches[one.clutch])
        else:
            made = genetics.Animal(id=one.code, sex=one.sex, dam=code(one.dam), sire=code(one.sire))
        animals_made.append(made)
    return genetics.Population(
        loci=(genetics.Locus(id="any", alleles=("+", "a")),),
        animals=tuple(animals_made),
        clutches=tuple(
            genetics.Clutch(
                id=name,
                candidates=tuple(
                    genetics.Couple(dam=code(rows.clutches[pk].dam), sire=code(sire), p=share)
                    for sire, share in rows.clutches[pk].sires
                ),
                paternity=rows.clutches[pk].paternity,
                stated_candidates=len(rows.clutches[pk].sires) > 1,
            )
            for pk, name in clutches.items()
        ),
    )
