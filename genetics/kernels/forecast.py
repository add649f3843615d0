"""Loops of a forecast: seasons of breeding towards a goal, run after run.

The *truth* of an animal, its genotype, decides what hatches and nothing else.  What its keeper
*knows* of it is its kind, a row of `beliefs` (`genetics.plans.forecast.policy`).  `choose`, `keep`
and what they call take kinds, sexes and ages alone: no decision rests on what cannot be seen.

Genotypes of hypothesis w lie from `first[w]` on; `digits[g, k]` is the state of genotype g in
space k.  A category is what is seen of a hatchling: sex · looks + look, or the look alone where
sex and genotype do not hang together.
"""

from __future__ import annotations

import numpy as np

from genetics.arrays import Floats1, Floats2, Floats3, Ints1, Ints2, Ints3
from genetics.kernels.protocols import Genes, Hand, Mind, Pen, Rates, Rules, Scratch

LOW = 0xFFFFFFFF  # random numbers are 32 bits, mixed by products that do not pass 63
FINE = 16.0  # chances that agree to one in so many parts of themselves are one
RARE = 1e-9  # chances below this part of the likeliest are that
FARTHER = 0.01  # what a chance two generations on counts beside one in the next
WAIT, HERE = 0.9, 4.0  # what a season of waiting leaves of a pair's worth; what no waiting adds
DEATHS, PAIRS = 1, 16  # what a season's random numbers are for


def mix(x: int) -> int:
    """Scatter 32 bits."""
    x = ((x ^ (x >> 16)) * 0x21F0AAAD) & LOW
    x = ((x ^ (x >> 15)) * 0x735A2D97) & LOW
    return x ^ (x >> 15)


def stir(key: int, counter: int) -> int:
    """The key of one purpose under another."""
    return mix((key + counter * 0x9E3779B1) & LOW)


def uniform(key: int, counter: int) -> float:
    """A number between 0 and 1, always the same for the same key and counter."""
    return (stir(key, counter) + 0.5) / 4294967296.0


def hatch(genes: Genes, dam: int, sire: int, sex: int, key: int) -> int:
    """The genotype of a hatchling of this sex; -1 where none can live."""
    first, digits, world, strides, sizes, starts, tables = genes[:7]
    w = world[dam]
    found = first[w]
    for k in range(digits.shape[1]):
        n = sizes[w, k]
        row = starts[w, k] + ((sex * n + digits[dam, k]) * n + digits[sire, k]) * n
        left = uniform(key, 1 + k)
        chosen = -1
        for c in range(n):
            p = tables[row + c]
            if p > 0.0:
                chosen = c
                left -= p
                if left < 0.0:
                    break
        if chosen < 0:
            return -1
        found += chosen * strides[w, k]
    return int(found)


def young(genes: Genes, dam: int, sire: int, out: Floats2) -> bool:
    """Chances `out[sex, genotype]` of a hatchling, in the parents' hypothesis; can any live?"""
    first, digits, world, _, sizes, starts, tables = genes[:7]
    w = world[dam]
    for sex in range(2):
        part = genes[7][dam, sire] if sex == 0 else 1.0 - genes[7][dam, sire]
        for c in range(first[w], first[w + 1]):
            p = part
            for k in range(digits.shape[1]):
                n = sizes[w, k]
                row = starts[w, k] + ((sex * n + digits[dam, k]) * n + digits[sire, k]) * n
                p *= tables[row + digits[c, k]]
                if p == 0.0:
                    break
            out[sex, c] = p
    return bool(out[:, first[w] : first[w + 1]].max() > 0.0)


def weigh(genes: Genes, mind: Mind, dam: int, sire: int) -> tuple[float, float]:
    """What a pair of kinds is worth, worked out or noted: in the next generation, and beyond."""
    first, world, prior, beliefs, noted = genes[0], genes[2], genes[10], mind[0], mind[7]
    pair = dam * beliefs.shape[0] + sire
    at = ((dam * 0x9E3779B1 + sire * 0x85EBCA77) >> 12) % noted.shape[0]
    if noted[at] == pair:
        return mind[1][at], mind[2][at]
    mass, now, then = 0.0, 0.0, 0.0
    for i in range(world.shape[0]):
        if beliefs[dam, i] > 0.0:
            w = world[i]
            for j in range(first[w], first[w + 1]):
                both = beliefs[dam, i] * beliefs[sire, j] / prior[w]
                mass += both
                now += both * mind[5][i, j]
                then += both * mind[6][i, j]
    noted[at] = pair
    mind[1][at] = now / mass if mass > 0.0 else 0.0
    mind[2][at] = then / mass if mass > 0.0 else 0.0
    return mind[1][at], mind[2][at]


def rounded(belief: Floats1) -> Floats1:
    """Chances as parts of the likeliest, to a few digits; what can be stays so."""
    found: Floats1 = belief / belief.max()
    for g in range(found.shape[0]):
        if found[g] > 0.0:
            unit = 1.0 / FINE
            while found[g] < unit * FINE * 0.5 and unit > RARE / FINE:
                unit *= 0.5
            found[g] = max(1.0, np.floor(found[g] / unit + 0.5)) * unit
    return found


def kind_of(mind: Mind, belief: Floats1) -> int:
    """The number of a belief, rounded; where there is no room for another, the nearest."""
    beliefs, places, used = mind[0], mind[3], mind[4]
    own, key = rounded(belief), 0
    for g in range(own.shape[0]):
        key = stir(key, int(own[g] * 1e12))
    at = key % places.shape[0]
    while places[at] >= 0:
        if (beliefs[places[at]] == own).all():
            return int(places[at])
        at = (at + 1) % places.shape[0]
    if used[0] == beliefs.shape[0]:
        return int(np.abs(beliefs - own).sum(axis=1).argmin())
    beliefs[used[0]] = own
    places[at] = used[0]
    used[0] += 1
    return int(used[0] - 1)


def forget(mind: Mind) -> None:
    """Forget all kinds but those of animals at hand, and all that was worked out of kinds."""
    used = mind[4]
    mind[3][:] = -1
    mind[7][:] = -1
    mind[9][:] = -1
    used[0] = 0
    for kind in range(used[1]):
        kind_of(mind, mind[0][kind].copy())


def learn(
    genes: Genes, mind: Mind, rules: Rules, dam: int, sire: int, seen: Ints1, learned: Floats2
) -> float:
    """What a clutch tells of its parents (rows 0 and 1 of `learned`) and of its hatchlings.

    Hatchlings are rows 2 and 3 by sex, or row 2 where looks tell no more of one sex than of the
    other.  The mass of the rows; 0 where the clutch cannot be by kinds, as merged ones may say.
    """
    first, look, prior, looks, apart = genes[0], genes[8], genes[10], rules[9], rules[10] - 1
    beliefs, out = mind[0], mind[8]
    learned[:, :] = 0.0
    by_category, mass = np.zeros(seen.shape[0]), 0.0
    for i in range(look.shape[0]):
        w = genes[2][i]
        for j in range(first[w], first[w + 1]):
            both = beliefs[dam, i] * beliefs[sire, j] / prior[w]
            if both <= 0.0 or not young(genes, i, j, out):
                continue
            by_category[:] = 0.0
            for c in range(first[w], first[w + 1]):
                by_category[look[c]] += out[0, c]
                by_category[apart * looks + look[c]] += out[1, c]
            for category in range(seen.shape[0]):
                for _ in range(seen[category]):
                    both *= by_category[category]
            if both <= 0.0:
                continue
            mass += both
            learned[0, i] += both
            learned[1, j] += both
            for c in range(first[w], first[w + 1]):
                for sex in range(2):
                    category = apart * sex * looks + look[c]
                    if seen[category] > 0 and out[sex, c] > 0.0:
                        learned[2 + apart * sex, c] += both * out[sex, c] / by_category[category]
    return mass


def name(
    genes: Genes, mind: Mind, rules: Rules, seen: Ints1, learned: Floats2, mass: float, found: Ints1
) -> None:
    """The kinds of what was learned: of dam and sire, then of hatchlings by category.

    Without mass the parents stay, and a hatchling may be all that its look allows.
    """
    look, looks = genes[8], rules[9]
    for parent in range(2):
        if mass > 0.0:
            found[parent] = kind_of(mind, learned[parent])
    for category in range(seen.shape[0]):
        if seen[category] > 0:
            belief = (look == category % looks).astype(np.float64)
            if mass > 0.0:
                belief *= learned[2 + category // looks]
            found[2 + category] = kind_of(mind, belief)


def told(
    genes: Genes, mind: Mind, rules: Rules, dam: int, sire: int, seen: Ints1, learned: Floats2,
    found: Ints1,
) -> None:  # fmt: skip
    """`found` gets what a clutch tells, see `name`, worked out or remembered."""
    keys, rows = mind[9], mind[10]
    certain = (mind[0][dam] > 0.0).sum() == 1 and (mind[0][sire] > 0.0).sum() == 1
    key, other = stir(stir(0, dam), sire), stir(stir(1, dam), sire)
    for category in range(seen.shape[0]):
        if certain:  # how many there are tells nothing more
            seen[category] = min(1, seen[category])
        key, other = stir(key, seen[category]), stir(other, seen[category])
    whole = (key << 30) | (other & 0x3FFFFFFF)
    at = whole % keys.shape[0]
    if keys[at] != whole:
        found[0], found[1] = dam, sire
        mass = learn(genes, mind, rules, dam, sire, seen, learned)
        name(genes, mind, rules, seen, learned, mass, found)
        keys[at] = whole
        rows[at] = found
    found[:] = rows[at]


def choose(genes: Genes, mind: Mind, rules: Rules, pen: Pen, n: int, room: Scratch) -> int:
    """Slots of a season's pairs, the best and of equal ones the first before; how many pairs."""
    kind, sex, age, taken, score, couples = pen[1], pen[2], pen[3], pen[5], room[0], room[1]
    taken[:n] = 0
    for made in range(rules[4]):
        best, further, dam, sire = 0.0, 0.0, -1, -1
        for f in range(n):
            if sex[f] != 0 or taken[f] > 0 or age[f] < rules[2]:
                continue
            for m in range(n):
                if sex[m] != 1 or taken[m] >= rules[5] or age[m] < rules[3]:
                    continue
                if made == 0:
                    score[0, f, m], score[1, f, m] = weigh(genes, mind, kind[f], kind[m])
                now, then = score[0, f, m], score[1, f, m]
                if now > best or (now == best and then > further):
                    best, further, dam, sire = now, then, f, m
        if dam < 0:
            return made
        couples[made, 0], couples[made, 1] = dam, sire
        taken[dam] += 1
        taken[sire] += 1
    return rules[4]


def sort(pen: Pen, n: int, most: int, herd: Ints2) -> int:
    """Sort the pen into groups of one sex, age and kind, the last of all that are left.

    Their number; `herd` gets by group its first slot, and by slot the next of its group, or -1.
    """
    kind, sex, age, group = pen[1], pen[2], pen[3], pen[6]
    groups = 0
    for i in range(n - 1, -1, -1):
        found = min(groups, most - 1)
        for g in range(groups):
            at = herd[0, g]
            if sex[at] == sex[i] and age[at] == age[i] and kind[at] == kind[i]:
                found = g
                break
        herd[1, i] = herd[0, found] if found < groups else -1
        herd[0, found], group[i] = i, found
        groups = max(groups, found + 1)
    return groups


def rate(
    genes: Genes, mind: Mind, rules: Rules, rates: Rates, pen: Pen, groups: int, herd: Ints2,
    score: Floats3,
) -> None:  # fmt: skip
    """What pairs of two groups are worth: soon (plane 0) and once mature (1); 0 within a sex."""
    kind, sex, age = pen[1], pen[2], pen[3]
    score[:, :groups, :groups] = 0.0
    for a in range(groups):
        for b in range(groups if sex[herd[0, a]] == 0 else 0):
            f, m = herd[0, a], herd[0, b]
            if sex[m] == 1:
                now, then = weigh(genes, mind, kind[f], kind[m])
                once = now + FARTHER * then
                wait = max(0, rules[2] - age[f] - 1, rules[3] - age[m] - 1)
                soon = rates[4] * once / (1.0 + rates[4] * once * (1 + wait))
                soon *= HERE if wait == 0 else 1.0
                score[0, a, b], score[0, b, a] = soon, soon
                for _ in range(wait):
                    once *= WAIT
                score[1, a, b], score[1, b, a] = once, once


def best_mate(groups: int, herd: Ints2, score: Floats2, a: int) -> int:
    """Of the groups of which any are left, the one that is best with another; -1 for none."""
    found = -1
    for b in range(groups):
        if herd[0, b] >= 0 and score[a, b] > (score[a, found] if found >= 0 else 0.0):
            found = b
    return found


def keep_pairs(rules: Rules, pen: Pen, groups: int, left: int, herd: Ints2, score: Floats2) -> int:
    """Keep a season's pairs of those not kept yet, best first; the places left.

    `herd` leads to the first of each group not kept (row 0), and to females' best mates (row 2).
    """
    kept, used = pen[5], pen[8]
    used[:groups] = 0
    for _ in range(rules[4]):
        best, dams = 0.0, -1
        for a in range(groups):
            if herd[0, a] >= 0 and herd[2, a] >= 0:
                if herd[0, herd[2, a]] < 0:
                    herd[2, a] = best_mate(groups, herd, score, a)
                if herd[2, a] >= 0 and score[a, herd[2, a]] > best:
                    best, dams = score[a, herd[2, a]], a
        if dams < 0 or left == 0:
            break
        sires = herd[2, dams]
        used[sires] += 1
        for g in (dams, sires):
            i = herd[0, g]
            if kept[i] == 0 and left > 0:
                kept[i] = 1
                left -= 1
            if g == dams or used[g] == rules[5]:
                herd[0, g] = herd[1, i]
                used[g] = 0
    for g in range(groups):
        if used[g] > 0:
            herd[0, g] = herd[1, herd[0, g]]
    return left


def best_kept(pen: Pen, n: int, groups: int, herd: Ints2, score: Floats2, best: float) -> float:
    """The best that any two who are kept are worth, `best` as far as those in the last row."""
    for i in range(n):
        g = pen[6][i]
        if pen[5][i] > 0 and herd[3, g] == 0:
            herd[3, g] = 1
            for b in range(groups):
                best = max(best, score[g, b] * herd[3, b])
    return best


def keep_singles(pen: Pen, groups: int, most: int, floor: float, herd: Ints2, own: Floats1) -> int:
    """Keep at most so many who with anybody are worth more than `floor`; how many they were."""
    for found in range(most):
        best, chosen = floor, -1
        for a in range(groups):
            if herd[0, a] >= 0 and own[a] > best:
                best, chosen = own[a], a
        if chosen < 0:
            return found
        pen[5][herd[0, chosen]] = 1
        herd[0, chosen] = herd[1, herd[0, chosen]]
    return most


def keep(
    genes: Genes, mind: Mind, rules: Rules, rates: Rates, pen: Pen, n: int, room: Scratch
) -> int:
    """Give away all but so many, by the policy; how many are left, in the order they were in."""
    kept, left, score, herd, own = pen[5], rules[6], room[0], room[6], room[0][2, 0]
    if n <= left:
        return n
    groups = sort(pen, n, score.shape[1], herd)
    rate(genes, mind, rules, rates, pen, groups, herd, score)
    for i in range(n):
        kept[i] = 1 if pen[4][i] < rules[11] else 0
        left -= kept[i]
    for g in range(groups):
        while herd[0, g] >= 0 and kept[herd[0, g]] > 0:
            herd[0, g] = herd[1, herd[0, g]]
        own[g], herd[3, g], i = score[1, g, :groups].max(), 0, herd[0, g]
        herd[2, g] = best_mate(groups, herd, score[0], g) if i >= 0 and pen[2][i] == 0 else -1
    before, floor = left + 1, 0.0
    while 0 < left < before:
        before = left
        left = keep_pairs(rules, pen, groups, left, herd, score[0])
        floor = best_kept(pen, n, groups, herd, score[1], floor)
        left -= keep_singles(pen, groups, min(left, 2 * rules[4]), floor, herd, own)
    keep_singles(pen, groups, left, -1.0, herd, own)
    return gather(pen, n)


def gather(pen: Pen, n: int) -> int:
    """Close the gaps that those leave whose mark is 0; how many there are."""
    last = 0
    for i in range(n):
        if pen[5][i] > 0:
            for facts in pen[:5]:
                facts[last] = facts[i]
            last += 1
    return last


def lay(
    genes: Genes, mind: Mind, rules: Rules, rates: Rates, pen: Pen, n: int, couple: Ints1,
    key: int, room: Scratch,
) -> tuple[int, int]:  # fmt: skip
    """A clutch: hatchlings that may be kept join the pen; how many are there, and met the goal."""
    state, kind, sex, age, ident, _, category, alike = pen[:8]
    dam, sire, looks, seen, found, note = couple[0], couple[1], rules[9], room[2], room[4], room[5]
    size = rates[0][np.searchsorted(rates[1], uniform(key, 2), side="right")]
    seen[:] = 0
    alike[:] = 0
    met, last = 0, n
    for egg in range(size):
        own = stir(key, 3 + egg)
        code = 0 if uniform(own, 0) < genes[7][state[dam], state[sire]] else 1
        g = hatch(genes, state[dam], state[sire], code, own)
        if g < 0:
            break
        look = genes[8][g]
        seen[code * (rules[10] - 1) * looks + look] += 1
        note[0] = stir(note[0], code * looks + look)
        met += genes[9][code, g]
        alike[code * looks + look] += 1
        if alike[code * looks + look] <= rules[8]:
            state[last], sex[last], age[last], ident[last] = g, code, 0, note[2]
            category[last] = code * (rules[10] - 1) * looks + look
            note[2] += 1
            last += 1
    told(genes, mind, rules, kind[dam], kind[sire], seen, room[3], found)
    kind[dam], kind[sire] = found[0], found[1]
    for i in range(n, last):
        kind[i] = found[2 + category[i]]
    return last, met


def grow_older(rates: Rates, pen: Pen, n: int, key: int, note: Ints1) -> int:
    """A year passes; how many live on."""
    age, ident, kept = pen[3], pen[4], pen[5]
    for i in range(n):
        age[i] += 1
        kept[i] = 1 if uniform(key, ident[i]) < rates[3] else 0
        note[0] = stir(note[0], kept[i])
    return gather(pen, n)


def play(
    genes: Genes, mind: Mind, rules: Rules, rates: Rates, pen: Pen, n: int, key: int, room: Scratch,
    trail: Ints2,
) -> int:  # fmt: skip
    """One run: the season in which the goal is reached, or 0.

    `trail[season]` gets what was seen and what was decided until then, each as one number.
    """
    couples, note, met = room[1], room[5], 0
    for season in range(rules[1]):
        now = stir(key, 1 + season)
        if season > 0:
            n = grow_older(rates, pen, n, stir(now, DEATHS), note)
        pairs = choose(genes, mind, rules, pen, n, room)
        for rank in range(pairs):
            note[1] = stir(stir(note[1], pen[4][couples[rank, 0]]), pen[4][couples[rank, 1]])
        if trail.shape[0] > 0:
            trail[season, 0], trail[season, 1] = note[0], note[1]
        for rank in range(pairs):
            for again in range(rules[7]):
                own = stir(stir(now, PAIRS + rank), again)
                if uniform(own, 1) < rates[2]:
                    n, more = lay(genes, mind, rules, rates, pen, n, couples[rank], own, room)
                    met += more
        if met >= rules[0]:
            return season + 1
        n = keep(genes, mind, rules, rates, pen, n, room)
        for i in range(n):
            note[1] = stir(note[1], pen[4][i])
    return 0


def run_all(
    genes: Genes, mind: Mind, rules: Rules, rates: Rates, hand: Hand, pen: Pen, room: Scratch,
    seed: int, reached: Ints1, trails: Ints3,
) -> None:  # fmt: skip
    """Every run; `hand` has by run and animal genotypes, kinds and sexes, and by animal ages."""
    state, kind, sex, ages = hand
    n, note = ages.shape[0], room[5]
    for run in range(state.shape[0]):
        if mind[4][0] > mind[0].shape[0] // 2:
            forget(mind)
        for i in range(n):
            pen[0][i], pen[1][i], pen[2][i] = state[run, i], kind[run, i], sex[run, i]
            pen[3][i], pen[4][i] = ages[i], i
        note[0], note[1], note[2], key = 0, 0, n, stir(mix(seed & LOW), run)
        trail = trails[run] if trails.shape[0] > 0 else trails[0:0, 0]
        reached[run] = play(genes, mind, rules, rates, pen, n, key, room, trail)


KERNELS = (
    mix, stir, uniform, hatch, young, weigh, rounded, kind_of, forget, learn, name, told, choose,
    sort, rate, best_mate, keep_pairs, best_kept, keep_singles, gather, keep, lay, grow_older, play,
    run_all,
)  # fmt: skip
