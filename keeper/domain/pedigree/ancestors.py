"""Ancestors as a list by generation, for paper: who they are, and nothing that they carry."""

from keeper.domain.pedigree.kin import Kin
from keeper.models import Animal

# Parents have a place of their own on a sheet.
_CALLED = ("Grandparents", "Great-grandparents")


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


def _parents_of(kin: Kin, animal: int, before: str) -> list[tuple[str, int]]:
    """Dam and sires with the way to each."""
    parents = kin.parents.get(animal)
    if parents is None:
        return []
    sire = "possible sire" if len(parents.sires) > 1 else "sire"
    ways = [(f"{before}dam", parents.dam)]
    ways += [(f"{before}{sire}", one.sire) for one in parents.sires]
    return [(way, pk) for way, pk in ways if pk is not None and pk in kin.animals]
