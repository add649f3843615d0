"""The young of an animal, clutch by clutch: with whom, what hatched, and who has a record."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from keeper.domain.animals import queries
from keeper.domain.saying.wording import Carried
from keeper.models import Animal, Clutch

Carrying = Mapping[int, Sequence[Carried]]


@dataclass(frozen=True)
class Brood:
    """One clutch of an animal, or its young that are recorded without a clutch.

    Attributes:
        others: the other parent, or those it may have been.
        seen: what was seen at the hatch, and on how many.
        young: those with a record, and what each carries.
    """

    clutch: Clutch | None
    others: tuple[Animal, ...]
    hatched: int
    seen: tuple[tuple[str, int], ...]
    young: tuple[tuple[Animal, tuple[Carried, ...]], ...]


def broods(
    animal: Animal, clutches: Sequence[Clutch], young: Sequence[Animal], carried: Carrying
) -> tuple[Brood, ...]:
    """Return the clutches, latest first, each with its young; last those without a clutch."""
    ids = [one.pk for one in clutches]
    hatched, seen = queries.hatched_in(ids), queries.seen_in(ids)
    by_clutch: dict[int | None, list[tuple[Animal, tuple[Carried, ...]]]] = {}
    for one in young:
        of = one.clutch_id if one.clutch_id in ids else None
        by_clutch.setdefault(of, []).append((one, tuple(carried.get(one.pk, ()))))
    found = [
        Brood(
            clutch=one,
            others=_mates(animal, one),
            hatched=hatched.get(one.pk, 0),
            seen=tuple(seen.get(one.pk, ())),
            young=tuple(sorted(by_clutch.get(one.pk, ()), key=lambda each: each[0].code)),
        )
        for one in clutches
    ]
    if None in by_clutch:
        found.append(Brood(None, (), 0, (), tuple(by_clutch[None])))
    return tuple(found)


def _mates(animal: Animal, clutch: Clutch) -> tuple[Animal, ...]:
    if clutch.dam_id == animal.pk:
        return tuple(one.sire for one in clutch.candidates.all() if one.sire is not None)
    return (clutch.dam,) if clutch.dam is not None else ()
