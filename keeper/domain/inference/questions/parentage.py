"""Which of a clutch's candidates is its sire, by all that hatched."""

from keeper.domain.inference.questions.asking import families_of
from keeper.domain.inference.standings.copies import unsure
from keeper.models import Clutch, Paternity


def sire_chances(clutch: Clutch) -> dict[int | None, float]:
    """Return the chance of each candidate by id (None: a male not recorded; 0: the dam alone).

    Empty where there is one candidate only or each egg has a sire of its own, and where nothing
    in the book can tell them apart.
    """
    candidates = list(clutch.candidates.live())
    if len(candidates) < 2 or clutch.paternity == Paternity.EACH:
        return {}
    parents = {clutch.dam_id, *(one.sire_id for one in candidates)}
    asked = families_of(clutch.species, [pk for pk in parents if pk is not None])
    chances: dict[int | None, float] = {}
    for part in asked.subproblems:
        row = part.of.rows.clutches[clutch.pk]
        name = part.book.clutch_ids.get(clutch.pk)
        if name is not None and name in part.book.population.clutch_index:
            found = part.solve().parentage(name)
            assert isinstance(found, list)  # one sire for the whole clutch
            for (sire, share), chance in zip(row.sires, found, strict=True):
                # They are independent given the sire: each weighs the shares by what it knows.
                chances[sire] = chances.get(sire, float(share)) * chance / float(share)
    whole = sum(chances.values())
    sure = sum(chance > 0 for chance in chances.values()) == 1
    return {
        sire: chance / whole if sure else unsure(chance / whole) for sire, chance in chances.items()
    }
