"""Generated breeding pedigrees with a simulated truth, in columns.

A collection starts with bought animals, breeds year after year and buys a few more. It keeps some
hatchlings to breed from. Of the others it records each one singly (a leaf of the pedigree), or, in
some clutches, only counts them by look. Every look is recessive. The genes are dropped through the
pedigree first and the records are read off them, so the evidence is always possible.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Uncertain = Literal["carriers", "all"]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Genes = NDArray[np.int8]

FEMALE, MALE = 0, 1
#: What the papers of a founder say at a locus; an animal bred here has no papers.
BRED, BACKGROUND, VISUAL, HET, POSSIBLE_HET = -1, 0, 1, 2, 3

MATURE_AT, RETIRED_AT = 3, 11
NEVER = 1_000_000
#: Chance that a mature female is bred in a year.
BREEDING_SHARE = 0.4
CLUTCH_SMALLEST, CLUTCH_LARGEST = 3, 11
FEWEST_FEMALES, MOST_FEMALES = 2, 6
#: Share of hatchlings that stay to breed, and of couples that are close relatives on purpose.
KEPT_SHARE, CLOSE_SHARE = 0.12, 0.10
#: Share of clutches whose other hatchlings are counted only.
TALLIED_SHARE = 0.15
#: Founders at the start, of the final size; founders bought, of the animals bred in the year.
FIRST_FOUNDERS, LATER_FOUNDERS = 0.03, 0.055
FOUNDER_FEMALES = 0.65
#: Shares of founders that are stated visual, het, possible het 2/3 (uncertain="carriers").
STATED_SHARES = (0.06, 0.14, 0.20)
#: Allele frequency of the population the founders come from (uncertain="all").
BACKGROUND_FREQUENCY = 0.2


@dataclass(frozen=True, slots=True)
class Pedigree:
    """One generated book: a row an animal (parents before young), a row a clutch, a row a tally.

    ``dam``, ``sire`` and ``clutch`` are -1 for founders. ``papers`` and ``looks`` have a column a
    locus; the looks of founders were not scored. Tally row i says that ``tally_count[i]``
    unrecorded hatchlings of clutch ``tally_clutch[i]`` each showed exactly ``tally_looks[i]``.
    """

    dam: Ints
    sire: Ints
    clutch: Ints
    sex: Ints
    home: Ints
    papers: Genes
    looks: Bools
    clutch_dam: Ints
    clutch_sire: Ints
    tally_clutch: Ints
    tally_looks: Bools
    tally_count: Ints
    background: float

    @property
    def animals(self) -> int:
        """Number of recorded animals."""
        return len(self.dam)

    @property
    def loci(self) -> int:
        """Number of loci, each with one recessive look."""
        return int(self.papers.shape[1])

    @property
    def founders(self) -> Bools:
        """Mask of the animals without parents."""
        return self.dam < 0


@dataclass(slots=True)
class _Book:
    """The columns while they grow; rows from ``size`` on are still empty."""

    rng: np.random.Generator
    uncertain: Uncertain
    trade: float
    targets: Ints
    recorded: Ints
    dam: Ints
    sire: Ints
    clutch: Ints
    sex: Ints
    home: Ints
    adult_from: Ints
    genes: Genes
    papers: Genes
    size: int = 0
    clutches: int = 0

    def rows(self, count: int) -> slice:
        """Claim the next ``count`` rows."""
        self.size += count
        return slice(self.size - count, self.size)


def generate(
    animals: int,
    *,
    collections: int = 1,
    loci: int = 1,
    seed: int = 0,
    uncertain: Uncertain = "carriers",
    trade: float = 0.05,
) -> Pedigree:
    """Return a random breeding pedigree of exactly ``animals`` recorded animals.

    Parameters
    ----------
    animals, collections, loci, seed:
        Recorded animals in all, equal collections they are bred in, recessive loci, random seed.
    uncertain:
        ``"carriers"``: of the founders 6 % are stated visual, 14 % het, 20 % possible het 2/3;
        the others come from a background without the allele. ``"all"``: every founder comes from a
        background with allele frequency 0.2 and nothing else is known of it.
    trade:
        Chance that a hatchling moves to another collection, chosen evenly, in its first year,
        and breeds there if it is one to be bred. At 0.05 a collection of 500 sells about 23
        recorded animals to the others over its history, some 4 of them to be bred.

    Raises
    ------
    ValueError
        If there are fewer than 12 animals a collection.
    """
    if animals < 12 * collections:
        raise ValueError(f"animals: {animals} is too few, give at least 12 a collection")
    book = _empty_book(animals, collections, loci, seed, uncertain, trade)
    _add_founders(book, np.maximum(6, np.rint(FIRST_FOUNDERS * book.targets)).astype(int), 0)
    couples: list[tuple[Ints, Ints]] = []
    tallies: list[tuple[Ints, Bools]] = []
    year = 0
    while book.size < animals:
        dams, sires = _matings(book, year)
        before = book.recorded.copy()
        if len(dams):
            couples.append((dams, sires))
            tallies.append(_hatch(book, year, dams, sires))
        wanted = book.rng.poisson(LATER_FOUNDERS * (book.recorded - before))
        _add_founders(book, np.minimum(wanted, book.targets - book.recorded), year)
        year += 1
    return _finish(book, couples, tallies)


def _empty_book(
    animals: int, collections: int, loci: int, seed: int, uncertain: Uncertain, trade: float
) -> _Book:
    targets = np.full(collections, animals // collections)
    targets[: animals % collections] += 1

    def column() -> Ints:
        return np.full(animals, -1, dtype=np.int64)

    return _Book(
        rng=np.random.default_rng(seed),
        uncertain=uncertain,
        trade=trade if collections > 1 else 0.0,
        targets=targets,
        recorded=np.zeros(collections, dtype=np.int64),
        dam=column(),
        sire=column(),
        clutch=column(),
        sex=column(),
        home=column(),
        adult_from=column(),
        genes=np.zeros((animals, loci, 2), dtype=np.int8),
        papers=np.full((animals, loci), BRED, dtype=np.int8),
    )


def _add_founders(book: _Book, wanted: Ints, year: int) -> None:
    """Buy adult animals, ``wanted[c]`` for collection c; the first two are a pair."""
    count = int(wanted.sum())
    rows = book.rows(count)
    rng = book.rng
    book.home[rows] = np.repeat(np.arange(len(wanted)), wanted)
    book.sex[rows] = np.where(rng.random(count) < FOUNDER_FEMALES, FEMALE, MALE)
    if year == 0:
        firsts = rows.start + np.concatenate([[0], np.cumsum(wanted)[:-1]])
        book.sex[firsts], book.sex[firsts + 1] = FEMALE, MALE
    book.adult_from[rows] = year - rng.integers(0, 4, count)
    book.recorded += wanted
    shape = (count, book.papers.shape[1])
    if book.uncertain == "all":
        book.papers[rows] = BACKGROUND
        book.genes[rows] = rng.random((*shape, 2)) < BACKGROUND_FREQUENCY
        return
    papers = np.searchsorted(np.cumsum(STATED_SHARES), rng.random(shape), side="right") + 1
    papers[papers > POSSIBLE_HET] = BACKGROUND
    book.papers[rows] = papers
    carries = (papers == HET) | ((papers == POSSIBLE_HET) & (rng.random(shape) < 2 / 3))
    book.genes[rows, :, 0] = carries | (papers == VISUAL)
    book.genes[rows, :, 1] = papers == VISUAL


def _matings(book: _Book, year: int) -> tuple[Ints, Ints]:
    """Couple the year's females: each male takes 2 to 6, then a tenth goes to a close relative.

    Established males come first; a younger one is used when they have their females.
    """
    rng, size = book.rng, book.size
    age = year - book.adult_from[:size]
    adult = (age >= 0) & (age < RETIRED_AT - MATURE_AT)
    adult &= (book.recorded < book.targets)[book.home[:size]]
    female = book.sex[:size] == FEMALE
    breeding = np.flatnonzero(adult & female & (rng.random(size) < BREEDING_SHARE))
    males = np.flatnonzero(adult & ~female)
    dams: list[Ints] = []
    sires: list[Ints] = []
    for collection in range(len(book.targets)):
        her = rng.permutation(breeding[book.home[breeding] == collection])
        his = males[book.home[males] == collection]
        if len(her) and len(his):
            dams.append(her)
            sires.append(_assign_males(rng, len(her), his))
    if not dams:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    all_dams, all_sires = np.concatenate(dams), np.concatenate(sires)
    _mate_close_relatives(book, all_dams, all_sires, males)
    return all_dams, all_sires


def _assign_males(rng: np.random.Generator, females: int, males: Ints) -> Ints:
    """Give each male in turn 2 to 6 of the females; start over if the males run out."""
    harems = rng.integers(FEWEST_FEMALES, MOST_FEMALES + 1, females)
    turn = np.repeat(np.arange(females), harems)[:females]
    return males[turn % len(males)]


def _mate_close_relatives(book: _Book, dams: Ints, sires: Ints, males: Ints) -> None:
    """Replace the sire of a tenth of the couples by the dam's father, son or (half) brother."""
    dam, sire, home = book.dam, book.sire, book.home
    young: dict[int, list[int]] = {}
    for male in males.tolist():
        for parent in (int(dam[male]), int(sire[male])):
            if parent >= 0:
                young.setdefault(parent, []).append(male)
    adults = set(males.tolist())
    left = int(book.rng.binomial(len(dams), CLOSE_SHARE))
    for couple in book.rng.permutation(len(dams)).tolist():
        if left == 0:
            return
        her = int(dams[couple])
        close = {int(sire[her])} & adults
        close.update(young.get(her, ()))
        if dam[her] >= 0:
            close.update(young.get(int(dam[her]), ()), young.get(int(sire[her]), ()))
        near = sorted(male for male in close if home[male] == home[her])
        if near:
            sires[couple] = near[int(book.rng.integers(len(near)))]
            left -= 1


def _hatch(book: _Book, year: int, dams: Ints, sires: Ints) -> tuple[Ints, Bools]:
    """Hatch a clutch a couple and record it; return clutch and looks of the counted hatchlings."""
    rng = book.rng
    sizes = rng.integers(CLUTCH_SMALLEST, CLUTCH_LARGEST + 1, len(dams))
    couple = np.repeat(np.arange(len(dams)), sizes)
    genes = np.stack(
        [_gametes(rng, book.genes[dams[couple]]), _gametes(rng, book.genes[sires[couple]])], axis=2
    )
    born_at = book.home[dams[couple]]
    stays = rng.random(len(couple)) < KEPT_SHARE
    counted = ~stays & (rng.random(len(dams)) < TALLIED_SHARE)[couple]
    recorded = _within_room(~counted, born_at, book.targets - book.recorded)
    count = int(recorded.sum())
    rows = book.rows(count)
    book.dam[rows], book.sire[rows] = dams[couple[recorded]], sires[couple[recorded]]
    book.clutch[rows] = book.clutches + couple[recorded]
    book.sex[rows] = rng.integers(0, 2, count)
    book.adult_from[rows] = np.where(stays[recorded], year + MATURE_AT, NEVER)
    book.genes[rows] = genes[recorded]
    book.recorded += np.bincount(born_at[recorded], minlength=len(book.targets))
    moves = rng.integers(1, max(2, len(book.targets)), count) * (rng.random(count) < book.trade)
    book.home[rows] = (born_at[recorded] + moves) % len(book.targets)
    clutches = book.clutches + couple[counted]
    book.clutches += len(dams)
    looks = np.asarray(genes[counted].all(axis=2), dtype=bool)
    return clutches, looks


def _gametes(rng: np.random.Generator, parents: Genes) -> Genes:
    """One allele a locus from each parent, (animals, loci, 2) -> (animals, loci)."""
    second = rng.integers(0, 2, parents.shape[:2], dtype=np.int8).astype(bool)
    return np.where(second, parents[:, :, 1], parents[:, :, 0])


def _within_room(wanted: Bools, born_at: Ints, room: Ints) -> Bools:
    """Record no more hatchlings than a collection still has to; the last ones stay unrecorded."""
    rows = np.flatnonzero(wanted)
    rows = rows[np.argsort(born_at[rows], kind="stable")]
    places = born_at[rows]
    rank = np.arange(len(rows)) - np.searchsorted(places, places)
    result = np.zeros_like(wanted)
    result[rows[rank < room[places]]] = True
    return result


def _finish(
    book: _Book, couples: list[tuple[Ints, Ints]], tallies: list[tuple[Ints, Bools]]
) -> Pedigree:
    """Group the tallies by look and leave out the clutches of which nothing was recorded."""
    clutch = np.concatenate([clutches for clutches, _ in tallies])
    looks = np.concatenate([seen for _, seen in tallies])
    order = np.lexsort((*looks.T, clutch))
    clutch, looks = clutch[order], looks[order]
    new = np.ones(len(clutch), dtype=bool)
    new[1:] = (clutch[1:] != clutch[:-1]) | (looks[1:] != looks[:-1]).any(axis=1)
    starts = np.flatnonzero(new)
    used = np.zeros(book.clutches, dtype=bool)
    used[clutch] = True
    used[book.clutch[book.clutch >= 0]] = True
    number = np.where(used, np.cumsum(used) - 1, -1)
    every_look = np.asarray(book.genes.all(axis=2), dtype=bool)
    return Pedigree(
        dam=book.dam,
        sire=book.sire,
        clutch=np.where(book.clutch >= 0, number[book.clutch], -1),
        sex=book.sex,
        home=book.home,
        papers=book.papers,
        looks=every_look,
        clutch_dam=np.concatenate([dams for dams, _ in couples])[used],
        clutch_sire=np.concatenate([sires for _, sires in couples])[used],
        tally_clutch=number[clutch[starts]],
        tally_looks=looks[starts],
        tally_count=np.diff(np.append(starts, len(clutch))),
        background=BACKGROUND_FREQUENCY if book.uncertain == "all" else 0.0,
    )


def animal_id(row: int) -> str:
    """Id of the animal in a row of a pedigree."""
    return f"A{row}"


def clutch_id(row: int) -> str:
    """Id of the clutch in a row of a pedigree."""
    return f"C{row}"


def locus_id(column: int) -> str:
    """Id of the locus in a column of a pedigree."""
    return f"g{column}"


def trait_id(column: int) -> str:
    """Id of the recessive look of a locus."""
    return f"Look{column}"


#: The `founder` statement that each kind of papers stands for.
STATEMENTS: dict[int, dict[str, str | int]] = {
    VISUAL: {"a/a": 1},
    HET: {"+/a": 1},
    POSSIBLE_HET: {"+/+": "1/3", "+/a": "2/3"},
}


def to_case(pedigree: Pedigree) -> dict[str, Any]:
    """Return the pedigree as a case of the engine's contract, without questions."""
    loci = range(pedigree.loci)
    case: dict[str, Any] = {
        "case": 1,
        "sex_determination": "XY",
        "loci": [{"id": locus_id(j), "alleles": ["+", "a"]} for j in loci],
        "traits": [{"id": trait_id(j), "recessive_at": [locus_id(j)]} for j in loci],
        "animals": _animal_records(pedigree),
        "clutches": _clutch_records(pedigree),
    }
    if pedigree.background:
        case["background"] = {locus_id(j): {"a": pedigree.background} for j in loci}
    return case


def _animal_records(pedigree: Pedigree) -> list[dict[str, Any]]:
    traits = [trait_id(j) for j in range(pedigree.loci)]
    records: list[dict[str, Any]] = []
    columns = (pedigree.clutch, pedigree.sex, pedigree.papers, pedigree.looks)
    rows = zip(*(column.tolist() for column in columns), strict=True)
    for row, (clutch, sex, papers, looks) in enumerate(rows):
        record: dict[str, Any] = {"id": animal_id(row), "sex": "male" if sex else "female"}
        if clutch >= 0:
            record["clutch"] = clutch_id(clutch)
            record["shows"] = dict(zip(traits, looks, strict=True))
        else:
            stated = {locus_id(j): STATEMENTS[p] for j, p in enumerate(papers) if p != BACKGROUND}
            if stated:
                record["founder"] = stated
        records.append(record)
    return records


def _clutch_records(pedigree: Pedigree) -> list[dict[str, Any]]:
    traits = [trait_id(j) for j in range(pedigree.loci)]
    couples = zip(pedigree.clutch_dam.tolist(), pedigree.clutch_sire.tolist(), strict=True)
    records: list[dict[str, Any]] = [
        {"id": clutch_id(row), "dam": animal_id(dam), "sire": animal_id(sire)}
        for row, (dam, sire) in enumerate(couples)
    ]
    columns = (pedigree.tally_clutch, pedigree.tally_count, pedigree.tally_looks)
    rows = zip(*(column.tolist() for column in columns), strict=True)
    for clutch, count, looks in rows:
        line = {"count": count, "shows": dict(zip(traits, looks, strict=True))}
        records[clutch].setdefault("tally", []).append(line)
    return records
