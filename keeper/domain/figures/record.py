"""The book's own record: of what it said of looks before they hatched, how much came true.

One entry an animal and trait. What was said is the chance kept at the clutch's first hatch; what
came of it is what was seen since. Chances of exactly 0 and 1 are no forecasts and counted apart.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from keeper.domain import inference
from keeper.domain.figures.looks import hatched_of
from keeper.models import Foretold

# A look of the genome's parts: traits shown, traits hidden, its chance.
_Look = tuple[list[int], list[int], float]
# Nearer to 0 or 1 than this a chance is certain: products of certain ones are rounded.
_ROUNDING = 1e-9
# Bounds of the bands, in whole percent: below 1, 1 to 10, 10 to 20 and so on.
BOUNDS = (0, 1, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100)


@dataclass(frozen=True)
class Band:
    """All that was said between two chances.

    Attributes:
        low, high: in percent; `low` belongs to it.
        said: how many animals and traits.
        came: of how many of them it came true.
        expected: of how many it should have: the sum of their chances.
        clutches: in how many clutches they hatched.
    """

    low: int
    high: int
    said: int = 0
    came: int = 0
    expected: float = 0.0
    clutches: int = 0

    @property
    def interval(self) -> tuple[float, float] | None:
        """The 95 % interval of the share that comes true (Clopper and Pearson)."""
        return inference.interval(self.came, self.said)

    @property
    def mean(self) -> float:
        """The mean of what was said; only where something was."""
        return self.expected / self.said

    @property
    def share(self) -> float:
        """The share that came true; only where something was said."""
        return self.came / self.said


@dataclass(frozen=True)
class OwnRecord:
    """What became of all that was said.

    Attributes:
        bands: what could have gone either way.
        certain, certain_held: how much was called certain, and how much of that held.
        impossible: how often a hatchling showed a trait that was said to be impossible on it. Of
            how many is not told: nearly everything is impossible on one, and rightly so.
        clutches: in how many clutches all of these hatched.
    """

    bands: tuple[Band, ...]
    certain: int
    certain_held: int
    impossible: int
    clutches: int

    @property
    def said(self) -> int:
        """How many entries the bands have."""
        return sum(one.said for one in self.bands)

    @property
    def came(self) -> int:
        """How many of them came true."""
        return sum(one.came for one in self.bands)


def own_record(rows: Sequence[Foretold]) -> OwnRecord:
    """Count what was said and what came of it, of exact forecasts alone."""
    rows = [one for one in rows if one.exact]
    hatched = hatched_of(rows)
    bands = [Band(low, high) for low, high in pairwise(BOUNDS)]
    certain = certain_held = impossible = 0
    clutches = set()
    for one in rows:
        in_bands, alike, chances = set(), hatched[one.clutch_id], chances_of(one)
        for trait in chances.keys() | {pk for look in alike for pk in look.shown}:
            chance = chances.get(trait, 0.0)
            showed = sum(look.count for look in alike if trait in look.shown)
            missed = sum(look.count for look in alike if trait in look.not_shown)
            if not showed + missed:
                continue
            clutches.add(one.clutch_id)
            if chance < _ROUNDING:
                impossible += showed
                continue
            if chance > 1 - _ROUNDING:
                certain, certain_held = certain + showed + missed, certain_held + showed
                continue
            place = _band(chance)
            in_bands.add(place)
            bands[place] = _more(bands[place], showed, missed, chance)
        for place in in_bands:
            bands[place] = replace(bands[place], clutches=bands[place].clutches + 1)
    return OwnRecord(tuple(bands), certain, certain_held, impossible, len(clutches))


def chances_of(told: Foretold) -> dict[int, float]:
    """Trait → the chance that a hatchling on which it can be seen was said to show it.

    A hatchling on which another look hides it tells nothing of it, and is left out of both sides.
    """
    shows: dict[int, float] = defaultdict(float)
    hides: dict[int, float] = defaultdict(float)
    traits = _traits(told)
    for share, parts in told.sires:
        for trait in traits:
            seen, unseen = _by_parts(parts, trait)
            shows[trait] += share * seen
            hides[trait] += share * unseen
    return {
        trait: min(1.0, shows[trait] / (1 - hides[trait])) if shows[trait] else 0.0
        for trait in traits
        if hides[trait] < 1
    }


def _by_parts(
    parts: Sequence[Sequence[tuple[float, Sequence[_Look]]]], trait: int
) -> tuple[float, float]:
    """How likely a hatchling shows a trait, and how likely it neither shows it nor could."""
    open_ = missed = 1.0
    for kinds in parts:
        shown = hidden = 0.0
        for weight, looks in kinds:
            shown += weight * sum(p for seen, _, p in looks if trait in seen)
            hidden += weight * sum(
                p for seen, hides, p in looks if trait in hides and trait not in seen
            )
        missed *= 1 - shown - hidden
        open_ *= 1 - hidden
    # Some part shows it where none hides it; else it may be hidden.
    return max(0.0, open_ - missed), max(0.0, 1 - open_)


def _traits(told: Foretold) -> set[int]:
    return {
        trait
        for _, parts in told.sires
        for kinds in parts
        for _, looks in kinds
        for shown, _, _ in looks
        for trait in shown
    }


def _band(chance: float) -> int:
    percent = chance * 100
    return max(place for place, low in enumerate(BOUNDS[:-1]) if percent >= low - 1e-9)


def _more(band: Band, showed: int, missed: int, chance: float) -> Band:
    said = showed + missed
    return replace(
        band,
        said=band.said + said,
        came=band.came + showed,
        expected=band.expected + said * chance,
    )
