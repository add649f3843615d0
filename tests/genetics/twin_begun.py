"""The brute-force twin's animals with which something began: founders at some loci alone."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from tests.genetics.twin_genome import NOBODY, SEXES, Copies, Genome, State


def begun(
    genome: Genome, begins: Collection[str], founder: Mapping[State, float], recorded: str,
    dam: State, sire: State,
) -> dict[State, float]:  # fmt: skip
    """P(sex and genotype) of one that is a founder at the loci in `begins`, else of this couple.

    `founder` is what it would be as a founder at all loci: a recorded sex counts no factor there.
    Its sex is the couple's to give, but where loci on the sex chromosomes are among those that
    begin.  A founder's joint statement may leave less than all of a chance, as rows fall away.
    """
    rest = _without(genome, begins)
    kept = [i for i, segment in enumerate(genome.segments) if segment.loci[0] not in begins]
    young = rest.offspring(_cut(dam, kept), _cut(sire, kept))
    sexed = any(genome.kinds[locus] != "autosome" for locus in begins)
    found: dict[State, float] = {}
    for sex in SEXES:
        own = _own(founder, kept, sex)
        share = 1.0 if recorded in SEXES else genome.share[sex]
        for its, p in own.items():
            for (of_sex, others), q in young.items():
                if of_sex != sex and not sexed:
                    continue
                # One sex is decided by one of the two, never by both.
                chance = p * q if sexed else p / share * q
                state = (sex, _woven(its, others, kept))
                found[state] = found.get(state, 0.0) + chance
    return found


def _without(genome: Genome, begins: Collection[str]) -> Genome:
    """The genome of all other loci."""
    case = genome.case
    rest = {
        **case,
        "loci": [one for one in case["loci"] if one["id"] not in begins],
        "linkage": [one for one in case.get("linkage", []) if one["loci"][0] not in begins],
        "viability": [one for one in case.get("viability", []) if one["locus"] not in begins],
    }
    classes = [s.loci for s in genome.segments if s.one_locus and s.loci[0] not in begins]
    return Genome(rest, classes)


def _cut(parent: State, kept: Collection[int]) -> State:
    """What a parent is at the segments that are kept."""
    if parent[0] == NOBODY:
        return parent
    return parent[0], tuple(parent[1][i] for i in kept)


def _own(
    founder: Mapping[State, float], kept: Collection[int], sex: str
) -> dict[tuple[Copies, ...], float]:
    """What a founder of a sex is at the other segments, with its chance and that of the sex."""
    found: dict[tuple[Copies, ...], float] = {}
    for (of_sex, segments), p in founder.items():
        if of_sex == sex:
            its = tuple(one for i, one in enumerate(segments) if i not in kept)
            found[its] = found.get(its, 0.0) + p
    return found


def _woven(
    its: tuple[Copies, ...], others: tuple[Copies, ...], kept: Collection[int]
) -> tuple[Copies, ...]:
    """All segments in their order, of the founder's own and of the couple's."""
    own, given = iter(its), iter(others)
    return tuple(next(given) if i in kept else next(own) for i in range(len(its) + len(others)))
