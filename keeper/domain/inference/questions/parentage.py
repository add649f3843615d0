"""Which of a clutch's candidates is its sire, by all that hatched."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

from keeper.domain.inference.questions.asking import Subproblem, Unanswerable, families_of
from keeper.domain.inference.reading.rows import ClutchRow, Rows
from keeper.domain.inference.standings.copies import unsure
from keeper.models import Clutch, Paternity, Species

# Chance of each candidate by id: None a male not recorded, 0 the dam alone.
Chances = dict[int | None, float]


def sire_chances(clutch: Clutch) -> Chances:
    """Return the chance of each candidate by id (None: a male not recorded; 0: the dam alone).

    Empty where there is one candidate only or each egg has a sire of its own, and where nothing
    in the book can tell them apart.
    """
    candidates = list(clutch.candidates.live())
    if len(candidates) < 2 or clutch.paternity == Paternity.EACH:
        return {}
    parents = {clutch.dam_id, *(one.sire_id for one in candidates)}
    asked = families_of(clutch.species, [pk for pk in parents if pk is not None])
    chances: Chances = {}
    for part in asked.subproblems:
        for row, _, found in _told(part, [clutch.pk]):
            chances = _weighed(row, chances, found)
    shares = _shared(chances)
    sure = sum(share > 0 for share in shares.values()) == 1
    return {sire: share if sure else unsure(share) for sire, share in shares.items()}


@dataclass
class Sires:
    """Who sired what, by all that hatched; what is not here is as likely as it was before.

    Attributes:
        of_clutch: of a clutch that one sire has whole.
        of_young: of a hatchling with a record, where each egg has a sire of its own.
        left_out: families that are more than can be worked out, and tell nothing here.
    """

    of_clutch: dict[int, Chances] = field(default_factory=dict)
    of_young: dict[int, Chances] = field(default_factory=dict)
    left_out: int = 0


def sires_of(species: Species, rows: Rows, clutches: Collection[int]) -> Sires:
    """Return who sired some clutches of several candidates; each family is solved once."""
    found = Sires()
    parents = {pk for clutch in clutches for pk in rows.clutches[clutch].parents}
    if not parents:
        return found
    try:
        parts = families_of(species, parents).subproblems
    except Unanswerable:
        return Sires(left_out=1)
    for part in parts:
        every = part.of.rows.animals.values()
        by_code = {one.code: one.pk for one in every if one.clutch in clutches}
        try:
            told = list(_told(part, clutches))
        except Unanswerable:
            found.left_out += 1
            continue
        for row, young, weights in told:
            kept, pk = found.of_clutch, row.pk
            if young is not None:
                kept, pk = found.of_young, by_code[young]
            kept[pk] = _weighed(row, kept.get(pk, {}), weights)
    found.of_clutch = {pk: _shared(chances) for pk, chances in found.of_clutch.items()}
    found.of_young = {pk: _shared(chances) for pk, chances in found.of_young.items()}
    return found


def _told(
    part: Subproblem, clutches: Collection[int]
) -> Iterator[tuple[ClutchRow, str | None, list[float]]]:
    """What one part of the book tells: clutch, hatchling by code if each has its own, chances.

    Raises:
        Unanswerable: it is more than can be worked out.
    """
    named = {pk: part.book.clutch_ids.get(pk) for pk in clutches}
    there = part.book.population.clutch_index
    known = {pk: name for pk, name in named.items() if name is not None and name in there}
    if not known:
        return
    solved = part.solve()
    for pk, name in known.items():
        row, found = part.of.rows.clutches[pk], solved.parentage(name)
        if isinstance(found, list):
            yield row, None, found
        else:
            for young, chances in found.items():
                yield row, young, chances


def _weighed(row: ClutchRow, before: Chances, chances: list[float]) -> Chances:
    """Bring in what another part tells: independent given the sire, each weighs the shares."""
    return {
        sire: before.get(sire, float(share)) * chance / float(share)
        for (sire, share), chance in zip(row.sires, chances, strict=True)
    }


def _shared(chances: Chances) -> Chances:
    whole = sum(chances.values())
    return {sire: chance / whole for sire, chance in chances.items()}
