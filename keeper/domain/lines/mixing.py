"""Lines of two genes of one look that would mix in the young of a pair."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from keeper.domain.inference import Mixing
from keeper.domain.saying.figures import percent
from keeper.domain.saying.wording import Carried
from keeper.models import Line, OpenPair, Trait


@dataclass(frozen=True)
class Mixed:
    """Two lines of one look that would mix in the young."""

    trait: Trait
    dam_line: Line
    sire_line: Line
    open: bool
    chance: float

    @property
    def words(self) -> str:
        """The mark beside what a hatchling carries."""
        maybe = "possibly " if self.open else ""
        both = f"{self.dam_line.label} with {self.sire_line.label}"
        return f"{maybe}mixed lines, {both}, {percent(self.chance)}"


def mixed_of(
    mixing: Iterable[Mixing], traits: dict[int, Trait], lines: dict[int, Line]
) -> list[Mixed]:
    """Return what would mix, with its rows."""
    return [
        Mixed(traits[one.trait], lines[one.dam_line], lines[one.sire_line], one.open, one.chance)
        for one in mixing
    ]


def mixed_in(mixing: Sequence[Mixing]) -> list[Mixed]:
    """Return what would mix in a clutch, with its rows."""
    if not mixing:
        return []
    ids = {pk for one in mixing for pk in (one.dam_line, one.sire_line)}
    lines = Line.objects.select_related("trait").in_bulk(list(ids))
    return mixed_of(mixing, {line.trait_id: line.trait for line in lines.values()}, lines)


@dataclass(frozen=True)
class WouldMix:
    """Lines of two genes of one look, of which each parent may hand on one.

    Attributes:
        dam_line, sire_line: what each may carry.
        certain: whether every parent that may carry one certainly does.
        is_open: whether nobody is sure that they are two genes.
    """

    trait: Trait
    dam_line: Line
    sire_line: Line
    certain: bool
    is_open: bool


def would_mix(dam: Iterable[Carried], sire: Iterable[Carried]) -> list[WouldMix]:
    """Return what would mix, from standings alone: no chance, which the pairing look-up tells."""
    fathers: dict[int, list[Carried]] = {}
    for one in sire:
        fathers.setdefault(one.trait.pk, []).append(one)
    found = [
        (one.trait, mine, yours)
        for one in dam
        for mine in one.by_line
        for father in fathers.get(one.trait.pk, ())
        for yours in father.by_line
        if mine.line and yours.line and mine.line.locus_id != yours.line.locus_id
    ]
    if not found:
        return []
    pairs = OpenPair.objects.live().filter(one__trait__in={trait.pk for trait, _, _ in found})
    open_pairs = {frozenset(pair) for pair in pairs.values_list("one_id", "other_id")}
    mixes: dict[frozenset[int], WouldMix] = {}
    for trait, mine, yours in found:
        if mine.line is None or yours.line is None:
            continue
        both = frozenset({mine.line.pk, yours.line.pk})
        certain = mine.none == 0 and yours.none == 0
        # Named once, whichever parent has which, and whichever candidate is the sire.
        if both not in mixes:
            mixes[both] = WouldMix(trait, mine.line, yours.line, certain, both in open_pairs)
        elif not certain:
            mixes[both] = replace(mixes[both], certain=False)
    return list(mixes.values())
