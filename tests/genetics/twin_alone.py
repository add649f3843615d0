"""The brute-force twin's young of a dam alone: terminal fusion, listed gamete by gamete."""

from __future__ import annotations

import json
from collections.abc import Mapping
from itertools import pairwise, product
from typing import Any

from tests.genetics.twin_genome import (
    FEMALE,
    MALE,
    NOBODY,
    Copies,
    Genome,
    Segment,
    State,
    number,
)

_NOBODY_ID = "no sire, retained "


def nobody(record: Mapping[str, Any]) -> str:
    """The id that stands where a couple has a sire, and says how much the young retain."""
    return _NOBODY_ID + json.dumps(record.get("retained", 0), sort_keys=True)


def is_nobody(who: str) -> bool:
    """Whether an id stands for no sire."""
    return who.startswith(_NOBODY_ID)


def state_of_nobody(who: str) -> State:
    """The one state of no sire."""
    return NOBODY, (((who.removeprefix(_NOBODY_ID),),),)


def retained_of(nobody_state: State) -> Any:
    """What a record says of the chance to stay as the dam is."""
    return json.loads(nobody_state[1][0][0][0])


def inbreeding_alone(who: str, dam: float) -> float:
    """Inbreeding of a young of a dam whose own is given: by identity of its two copies.

    Of chances that differ by locus the pedigree takes none: at other loci it is 0.
    """
    retained = json.loads(who.removeprefix(_NOBODY_ID))
    chance = 0.0 if isinstance(retained, dict) else float(number(retained))
    return (1 - chance) + chance * dam


def hatchlings_alone(genome: Genome, dam: State, retained: Any) -> dict[State, float]:
    """One egg of a dam alone: sex and genotype with their chances, survival counted."""
    if genome.heterogametic is None:
        sexes = dict(genome.share)
    else:
        sexes = {MALE if genome.heterogametic == FEMALE else FEMALE: 1.0}
    weights: dict[State, float] = {}
    parts = [list(_segment(genome, i, dam, retained).items()) for i in range(len(genome.segments))]
    for sex, share in sexes.items():
        for choice in product(*parts):
            state = (sex, tuple(copies for copies, _ in choice))
            chance = share * genome.survival(state)
            for _, p in choice:
                chance *= p
            weights[state] = weights.get(state, 0.0) + chance
    total = sum(weights.values())
    return {state: w / total for state, w in weights.items() if w > 0}


def _segment(genome: Genome, i: int, dam: State, retained: Any) -> dict[Copies, float]:
    segment, copies = genome.segments[i], dam[1][i]
    if dam[0] == genome.heterogametic and segment.kind == "X":
        return {(copies[0], copies[0]): 1.0}
    rates = _rates(genome, segment, dam)
    stays = [_chance(retained, locus) for locus in segment.loci]
    if dam[0] == genome.heterogametic and segment.kind == "sex" and rates[0] == 0:
        stays = [0.0]  # one piece with the sex factor, of which a ZZ young has two alike
    found: dict[Copies, float] = {}
    for strands in product((0, 1), repeat=len(segment.loci)):
        chance = _walk(genome, segment, dam, strands)
        for kept in product((False, True), repeat=len(segment.loci)):
            share = chance * _kept(kept, stays, rates)
            if share:
                one = tuple(copies[s][j] for j, s in enumerate(strands))
                other = tuple(copies[1 - s if kept[j] else s][j] for j, s in enumerate(strands))
                pair = genome.pair(one, other)
                found[pair] = found.get(pair, 0.0) + share
    return found


def _rates(genome: Genome, segment: Segment, dam: State) -> tuple[float, ...]:
    """Recombination in the dam: between neighbours, or of a lone locus with the sex factor."""
    if segment.kind == "autosome":
        return segment.recombination[FEMALE]
    return segment.recombination[FEMALE] if segment.kind == "sex" else ()


def _walk(genome: Genome, segment: Segment, dam: State, strands: tuple[int, ...]) -> float:
    """Chance that a gamete of the dam takes these homologs (of a ZW dam: one that carries Z)."""
    if dam[0] == genome.heterogametic and segment.kind == "sex":
        exchanged = segment.recombination[FEMALE][0]
        return exchanged if strands[0] else 1 - exchanged
    chance = 0.5
    rates = segment.recombination[FEMALE] if segment.kind == "autosome" else ()
    for rate, (here, there) in zip(rates, pairwise(strands), strict=True):
        chance *= rate if here != there else 1 - rate
    return chance


def _chance(retained: Any, locus: str) -> float:
    stated = retained.get(locus, 0) if isinstance(retained, dict) else retained
    return float(number(stated))


def _kept(kept: tuple[bool, ...], stays: list[float], rates: tuple[float, ...]) -> float:
    """Chance that just these loci stay as the dam is; loci that never recombine go together."""
    chance = 1.0
    for j, (is_kept, stay) in enumerate(zip(kept, stays, strict=True)):
        if j and rates[j - 1] == 0:
            chance *= is_kept == kept[j - 1]
        else:
            chance *= stay if is_kept else 1 - stay
    return chance
