"""The pedigree of a population for `genetics.kinship`."""

from __future__ import annotations

from genetics.columns import SEX_CODE
from genetics.kinship import Couple, Pedigree
from genetics.population import NO_SIRE, Population, Retained


def pedigree(population: Population) -> Pedigree:
    """Pedigree of the recorded animals, in their order, with candidates and shared draws.

    Unrecorded parents of a clutch follow the animals as individuals of their own, so that all
    hatchlings of the clutch share them.
    """
    index = population.animal_index
    couples: list[list[Couple]] = [[] for _ in population.animals]
    sexes = [SEX_CODE[sex] for sex in population.sexes]
    litter = [-1] * len(couples)
    by_clutch: dict[str, list[Couple]] = {}
    extra = len(couples)
    for number, clutch in enumerate(population.clutches):
        unrecorded: dict[str, int] = {}
        for role, code in (("dam", 0), ("sire", 1)):
            if any(getattr(couple, role) is None for couple in clutch.candidates):
                unrecorded[role] = extra
                sexes.append(code)
                couples.append([])
                litter.append(-1)
                extra += 1
        by_clutch[clutch.id] = []
        for c in clutch.candidates:
            dam = unrecorded["dam"] if c.dam is None else index[c.dam]
            if c.sire == NO_SIRE:
                by_clutch[clutch.id].append(Couple(dam, dam, float(c.p), _retained(c.retained)))
                continue
            sire = unrecorded["sire"] if c.sire is None else index[c.sire]
            by_clutch[clutch.id].append(Couple(dam, sire, float(c.p)))
        if clutch.paternity == "one" and len(clutch.candidates) > 1:
            for i, animal in enumerate(population.animals):
                if animal.clutch == clutch.id:
                    litter[i] = number
    for i, animal in enumerate(population.animals):
        if animal.clutch is not None:
            couples[i] = by_clutch[animal.clutch]
        elif animal.dam is not None or animal.sire is not None:
            dam = -1 if animal.dam is None else index[animal.dam]
            if animal.sire == NO_SIRE:
                couples[i] = [Couple(dam, dam, 1.0, _retained(animal.retained))]
                continue
            sire = -1 if animal.sire is None else index[animal.sire]
            couples[i] = [Couple(dam, sire, 1.0)]
    return Pedigree(tuple(tuple(row) for row in couples), tuple(sexes), tuple(litter))


def _retained(retained: Retained) -> float:
    """What the pedigree takes young of a dam alone to retain.

    Where it is said locus by locus none, as at a locus that is not named: kinship is not to be
    told lower than it is.
    """
    return 0.0 if isinstance(retained, tuple) else float(retained)
