"""How the keeper of a forecast decides, and what of it is laid down here.

A keeper knows looks, sexes, ages, who hatched out of whom, and what follows.  What is known of one
animal is a *belief*: chances of its genotypes.  Animals of one belief are of one *kind*, and all
decisions are functions of kinds, sexes, ages and the order in which animals came; what was drawn
for an animal reaches them through what was seen alone.

**Beliefs.**  An animal at hand begins with its posterior, narrowed by its sex and look, which are
seen in season 1.  A clutch tells of its parents and of itself: the parents' joint genotypes, taken
as independent before it, are weighed by the looks of all its hatchlings; that gives the parents
new beliefs, and each hatchling one from the parents so weighed and its own look.  Between clutches
dependence is dropped, grandparents are not revised, and chances are rounded to a sixteenth of
themselves.  These are approximations, and they decide who is bred, never whether a hatchling
meets the goal: so they can make a keeper a little less clever, but no stated chance wrong.  A
belief follows from what was seen in its own run alone, never from other runs.

**Pairing.**  Of the pairs that are mature, the one with the best chance that a hatchling meets the
goal; then the best of those left, as `pairs` and `matings` allow.  Equal pairs, and those that
cannot meet it yet, go by what they bring closer: the chance that a grandchild meets the goal if
their young breed with one another, every parent blurred a little (`BLUR`), so that an allele that
must still come from elsewhere lowers the chance instead of making it nothing.  Brother and sister
may be paired.

**Keeping.**  What a pair is worth is v, its chance in the next generation and a hundredth of that
beyond.  With x hatchlings that meet the goal a season, v times their number, and t seasons until
both are mature, those pairs are kept that have the greatest x / (1 + x (1 + t)), about one over the
seasons until a first such hatchling; four times as much counts a pair that can breed next season,
so that what is good now is not given away for what is better later.  Beside them who, with anybody,
is worth more than any two kept, v less a tenth for each season of waiting; then reserves in the
same way while there are places: of both sexes, therefore.  Of one clutch at most `spare` of one sex
and look are considered.
Without a limit of places all animals at hand stay; with or without, `roomy` more at most.

The weights of a hundredth, a tenth and four are rules of thumb of our own, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from genetics.arrays import Floats, Floats2
from genetics.errors import BeyondExact
from genetics.plans.forecast.genome import Genome, Reading

BLUR = 0.01
"""Part of a parent that may be anything where generations are looked ahead."""
MOST_TOGETHER = 64
"""States of loci solved together, where generations are looked ahead; its fourth power is room."""
DIGITS = 12
"""Decimals to which worth is rounded, so that no machine breaks a tie of its own."""


def spare(pairs: int) -> int:
    """Hatchlings of one clutch, sex and look among which more are not worth a place."""
    return min(pairs + 1, 3)


def roomy(pairs: int) -> int:
    """How many are kept at most, more than there are at hand in the beginning."""
    return min(6 * pairs + 6, 60)


def worth(genome: Genome) -> tuple[Floats2, Floats2]:
    """By genotypes of dam and sire: chance that a hatchling meets the goal; a grandchild, blurred.

    Zero where dam and sire are of different hypotheses.

    Raises:
        BeyondExact: loci that are solved together have more than `MOST_TOGETHER` states.
    """
    near, far = np.zeros((genome.size, genome.size)), np.zeros((genome.size, genome.size))
    for w, reading in enumerate(genome.readings):
        low, high = int(genome.first[w]), int(genome.first[w + 1])
        most = max((*reading.sizes, 0))
        if most > MOST_TOGETHER:
            raise BeyondExact(
                float(most), float(MOST_TOGETHER),
                f"{most} genotypes of loci that are solved together, more than the "
                f"{MOST_TOGETHER} among which a forecast can look ahead",
            )  # fmt: skip
        met = genome.goal[:, low:high].astype(np.float64)
        females = reading.female_shares()
        by_sex = _met(reading, met, reading.tables)
        near[low:high, low:high] = females * by_sex[0] + (1.0 - females) * by_sex[1]
        by_sex = _met(reading, met, [_grandchild(table) for table in reading.tables])
        far[low:high, low:high] = 0.5 * (by_sex[0] + by_sex[1])
    return np.round(near, DIGITS), np.round(far, DIGITS)


def _grandchild(table: Floats) -> Floats:
    """Chances by sex, dam, sire and grandchild, if their young breed with one another, blurred."""
    n = table.shape[1]
    blur = (1.0 - BLUR) * np.eye(n) + BLUR / n
    young = np.tensordot(blur, np.tensordot(blur, table, axes=(1, 2)), axes=(1, 2))
    young = _whole(np.moveaxis(young, 2, 0))
    dams, sires = young[0].reshape(n * n, n), young[1].reshape(n * n, n)
    found = np.empty(table.shape)
    for sex in (0, 1):
        by_dam = (dams @ table[sex].reshape(n, n * n)).reshape(n * n, n, n)
        found[sex] = np.matmul(sires[:, None, :], by_dam)[:, 0, :].reshape(n, n, n)
    return _whole(found)


def _whole(table: Floats) -> Floats:
    """Rows scaled to sum to one, where anything is in them."""
    total = table.sum(axis=-1, keepdims=True)
    found: Floats = np.divide(table, total, out=np.zeros(table.shape), where=total > 0)
    return found


def _met(reading: Reading, met: Floats2, tables: Sequence[Floats]) -> tuple[Floats, Floats]:
    """By sex and genotypes of dam and sire: `met` averaged over what the spaces say of young."""
    spaces = len(reading.sizes)
    order = [*range(0, 2 * spaces, 2), *range(1, 2 * spaces, 2)]
    found = []
    for sex in (0, 1):
        left = met[sex].reshape(reading.sizes)
        for table in tables:
            left = np.tensordot(left, table[sex], axes=(0, 2))
        found.append(np.transpose(left, order).reshape(len(met[0]), len(met[0])))
    return found[0], found[1]
