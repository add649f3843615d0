"""Clutch sizes, fertility and hatch rate, with what they rest on: by season, dam, sire, incubator.

A share has the 95 % interval of Clopper and Pearson (Biometrika 26, 1934), which holds the true
share at least so often whatever it is, if eggs were independent. Those of one clutch share a dam
and a box, so what is known is less than the interval says; that is said where it stands.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from django.db.models import Prefetch, QuerySet

from keeper.domain import inference
from keeper.domain.clutches.queries import with_hatched, with_parents, with_season
from keeper.models import Clutch, Incubation, Species

BY = ("season", "dam", "sire", "incubator")
NOT_SAID = {
    "season": "season not known",
    "dam": "dam not recorded",
    "sire": "sire not recorded",
    "incubator": "no incubator noted",
}
SEVERAL = {"sire": "one of several", "incubator": "in several"}


@dataclass(frozen=True)
class Share:
    """So many of so many, with the interval of the share; None of none."""

    part: int
    whole: int

    @property
    def interval(self) -> tuple[float, float] | None:
        """The 95 % interval of the true share; None where there is nothing to tell it by."""
        return inference.interval(self.part, self.whole)


@dataclass(frozen=True)
class Rates:
    """What clutches of one group came to.

    Attributes:
        name, pk: of the group; no number where it is no record.
        clutches: how many were laid.
        sizes: eggs of each whose eggs were counted, in order.
        fertile: good eggs among all that were laid, of those same clutches.
        hatched: young among good eggs, of clutches of which every egg is accounted for.
        done: how many those are.
    """

    name: str
    pk: int | None
    clutches: int
    sizes: tuple[int, ...]
    fertile: Share
    hatched: Share
    done: int

    @property
    def median(self) -> float | None:
        """The middle clutch size; None where no eggs were counted."""
        return median(self.sizes) if self.sizes else None


def species_with_clutches() -> list[Species]:
    """Return the species of which there are clutches."""
    return list(Species.objects.live().filter(clutches__withdrawn_at=None).distinct())


def clutches_of(species: Species) -> list[Clutch]:
    """Return the clutches that count of a species, with all that figures ask of them."""
    boxes = Prefetch("incubations", Incubation.objects.live())
    rows: QuerySet[Clutch] = Clutch.objects.live().filter(species=species)
    return list(with_season(with_hatched(with_parents(rows))).prefetch_related(boxes))


def rates(clutches: Sequence[Clutch], by: str) -> list[Rates]:
    """Return figures of clutches in groups; groups that are none come last."""
    groups: dict[tuple[str, int | None], list[Clutch]] = defaultdict(list)
    for one in clutches:
        groups[_group(one, by)].append(one)
    odd = {NOT_SAID[by], SEVERAL.get(by, "")}

    def order(key: tuple[str, int | None]) -> tuple[bool, str]:
        return key[0] in odd, key[0]

    return [_rates(*key, groups[key]) for key in sorted(groups, key=order)]


def whole(clutches: Sequence[Clutch]) -> Rates:
    """Return the same figures of all of them."""
    return _rates("all", None, clutches)


def _group(clutch: Clutch, by: str) -> tuple[str, int | None]:
    match by:
        case "season":
            year = getattr(clutch, "season", None)
            return (str(year), None) if year else (NOT_SAID[by], None)
        case "dam":
            return (clutch.dam.code, clutch.dam.pk) if clutch.dam else (NOT_SAID[by], None)
        case "sire":
            sires = [one.sire for one in clutch.candidates.all()]
            if len(sires) > 1:
                return SEVERAL[by], None
            sire = sires[0] if sires else None
            return (sire.code, sire.pk) if sire else (NOT_SAID[by], None)
        case _:
            return _incubator(clutch), None


def _incubator(clutch: Clutch) -> str:
    """The place of its boxes; eggs that were parted lie in several."""
    places = {one.place.strip() for one in clutch.incubations.all() if one.place.strip()}
    if len(places) > 1:
        return SEVERAL["incubator"]
    return next(iter(places), NOT_SAID["incubator"])


def _rates(name: str, pk: int | None, clutches: Sequence[Clutch]) -> Rates:
    counted = [(one, one.eggs) for one in clutches if one.eggs]
    done = [one for one, _ in counted if _is_done(one)]
    return Rates(
        name,
        pk,
        len(clutches),
        tuple(sorted(eggs for _, eggs in counted)),
        Share(sum(eggs - one.slugs for one, eggs in counted), sum(eggs for _, eggs in counted)),
        Share(sum(map(_young, done)), sum((one.eggs or 0) - one.slugs for one in done)),
        len(done),
    )


def _is_done(clutch: Clutch) -> bool:
    """Whether every egg is accounted for: hatched, lost or a slug."""
    return clutch.eggs == clutch.slugs + clutch.lost + _young(clutch)


def _young(clutch: Clutch) -> int:
    return int(getattr(clutch, "hatched", 0))
