"""Published linkage: map distances, and genes on the sex chromosomes."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

import pytest
from scipy import optimize, stats

from tests.genetics.published import published
from tests.genetics.published_cases import (
    Json,
    answered,
    case,
    child,
    clutch,
    evidence,
    founder,
    goal,
    line,
    locus,
    lod,
    looks,
    recessive,
    to_digits,
)


def likeliest(case_at: Callable[[float], Json]) -> float:
    """The recombination fraction at which the evidence is most likely."""
    found = optimize.minimize_scalar(
        lambda r: -evidence(case_at(r)), bounds=(1e-6, 0.5), method="bounded",
        options={"xatol": 1e-7},
    )  # fmt: skip
    return float(found.x)


def standard_error(case_at: Callable[[float], Json], n: int, r: float) -> float:
    """From the information that n young are expected to hold: n Σ (dp/dr)² / p."""
    step = 1e-5
    low, here, high = (looks(case_at(x), "F M") for x in (r - step, r, r + step))
    slope = {look: (high[look] - low[look]) / (2 * step) for look in here}
    return 1 / math.sqrt(n * sum(slope[look] ** 2 / p for look, p in here.items()))


def linked(female: float, male: float) -> list[Json]:
    return [{"loci": ["p", "l"], "recombination": [{"female": female, "male": male}]}]


def tally(counts: Sequence[int]) -> list[Json]:
    """Lines in the order PL, Pl, pL, pl."""
    looks_of = [(False, False), (False, True), (True, False), (True, True)]
    return [line(n, White=p, Round=l_) for n, (p, l_) in zip(counts, looks_of, strict=True)]


PEAS = [locus("p"), locus("l")], [recessive("White", "p"), recessive("Round", "l")]


def double_hets(counts: Sequence[int], r: float) -> Json:
    """The second generation of pure purple long by pure white round."""
    animals = [
        founder("GF", "female", p="+/+", l="+/+"),
        founder("GM", "male", p="p/p", l="l/l"),
        child("F", "female", "GF GM"),
        child("M", "male", "GF GM"),
    ]
    return case(*PEAS, animals, [clutch("C", "F M", *tally(counts))], linkage=linked(r, r))


def bred_to_recessive(counts: Sequence[int], r: float, male: float = 0.5) -> Json:
    """A doubly heterozygous female in coupling, bred to the double recessive."""
    animals = [
        founder("GF", "female", p="+/+", l="+/+"),
        founder("GM", "male", p="p/p", l="l/l"),
        child("F", "female", "GF GM"),
        founder("M", "male", p="p/p", l="l/l"),
    ]
    return case(*PEAS, animals, [clutch("C", "F M", *tally(counts))], linkage=linked(r, male))


# ---- autosomes -------------------------------------------------------------------------------


@pytest.mark.parametrize("table", ["set381", "set2132", "set6952"])
def test_sweet_peas_are_likeliest_at_the_published_distance(table: str) -> None:
    # Bateson, Saunders & Punnett 1905-1908; Punnett 1917 (the largest set).
    numbers = published("E7.sweetpea_link")
    counts = numbers[table]
    best = likeliest(lambda r: double_hets(counts, r))
    assert best == pytest.approx(numbers["MLE_r"][table], abs=to_digits(4))
    error = standard_error(lambda r: double_hets(counts, r), sum(counts), best)
    assert error == pytest.approx(numbers["se"][table], abs=to_digits(4))

    share = looks(double_hets([0] * 4, 0.5), "F M")
    parts = [(), ("Round",), ("White",), ("White", "Round")]
    chi_square = stats.chisquare(counts, [share[part] * sum(counts) for part in parts]).statistic
    assert chi_square == pytest.approx(numbers["chi2_9331"][table], abs=to_digits(2))


def test_testcross_counts_the_recombinants() -> None:
    # Morgan 1911-12, in Griffiths et al., ch. 4: purple and vestigial.
    numbers = published("E7.prvg")
    (one, two), (three, four) = numbers["parental"], numbers["recombinant"]
    counts = [one, three, four, two]
    assert sum(counts) == numbers["total"]
    for male in (0.0, 0.5):  # Flies' males do not recombine, and here it tells nothing.
        best = likeliest(partial(bred_to_recessive, counts, male=male))
        assert best == pytest.approx(numbers["r"], abs=1e-6)


def backcross(table: Sequence[Sequence[int]], r: float) -> Json:
    (bb_bb, bb_ba), (ba_bb, ba_ba) = table
    return bred_to_recessive([bb_bb, bb_ba, ba_bb, ba_ba], r)


@pytest.mark.parametrize("pair", published("D12.hyper")["pairs"])
def test_markers_of_a_backcross_have_the_published_lods(pair: str) -> None:
    # Sugiyama et al. 2001; R package qtl 1.58.
    numbers = published("D12.hyper")["pairs"][pair]
    table, expected = numbers["table"], numbers["r"]
    if expected > 0.5:
        # More than half is no linkage, and a case stops there; with one marker's genotypes
        # exchanged the rest of the fraction is found, with as much evidence.
        assert likeliest(lambda r: backcross(table, r)) == pytest.approx(0.5, abs=1e-5)
        table, expected = [row[::-1] for row in table], 1 - expected
    best = likeliest(lambda r: backcross(table, r))
    assert best == pytest.approx(expected, abs=to_digits(len(str(numbers["r"])) - 2))
    found = lod(backcross(table, best), backcross(table, 0.5))
    decimals = len(str(numbers["LOD"]).partition(".")[2])
    assert found == pytest.approx(numbers["LOD"], abs=to_digits(decimals))


# ---- sex chromosomes -------------------------------------------------------------------------

BARRED = [{"id": "Barred", "shown_by": [{"b": ["b/W", "+/b", "b/b"]}]}]


def fowl(hen: str, cock: str) -> Json:
    animals = [
        founder("GF", "female", b=hen),
        founder("GM", "male", b=cock),
        child("F", "female", "GF GM"),
        child("M", "male", "GF GM"),
    ]
    return case([locus("b", chromosome="Z")], BARRED, animals, system="ZW")


def classes(data: Json, parents: str) -> list[float]:
    """Barred cocks, barred hens, black cocks, black hens."""
    return [
        goal(data, parents, shows={"Barred": barred}, sex=sex)
        for barred in (True, False)
        for sex in ("male", "female")
    ]


def test_barring_crosses_over_to_the_other_sex() -> None:
    # Morgan 1913, Fig. 41: black cock, barred hen.
    birds = fowl("b/W", "+/+")
    ratio = published("E7.barred")["F2_ratio"]
    assert classes(birds, "GF GM") == pytest.approx([0.5, 0, 0, 0.5], abs=1e-12)
    expected = [part / sum(ratio) for part in ratio]
    assert classes(birds, "F M") == pytest.approx(expected, abs=1e-12)


def test_barring_the_other_way_round_bars_everybody_first() -> None:
    # Derived: barred cock, black hen; the other direction of the same cross.
    birds = fowl("+/W", "b/b")
    assert classes(birds, "GF GM") == pytest.approx([0.5, 0.5, 0, 0], abs=1e-12)
    assert classes(birds, "F M") == pytest.approx([0.5, 0.25, 0, 0.25], abs=1e-12)


def python_pair(r: float, whence: str, *young: Json) -> Json:
    """A son that shows the trait, from his sire or from his dam, bred to a wild-type dam."""
    other = "sire" if whence == "dam" else "dam"
    key = {whence: "+/mk", other: "+/+"}
    animals = [
        founder("GF", "female", mk=key["dam"]),
        founder("GM", "male", mk=key["sire"]),
        child("M", "male", "GF GM", shows={"Marrowglass": True}),
        founder("F", "female", mk="+/+"),
    ]
    shown = {"id": "Marrowglass", "shown_by": [{"mk": ["+/mk", "mk/mk"]}]}
    where = locus("mk", chromosome="sex", recombination=r)
    return case([where], [shown], animals, [clutch("C", "F M", *young)])


def with_sexes(expected: int, swapped: int, whence: str) -> list[Json]:
    """Young with the trait in the sex that is expected of it, and in the other."""
    with_trait = {"sire": "male", "dam": "female"}[whence]
    without = {"sire": "female", "dam": "male"}[whence]
    return [
        line(expected - expected // 2, with_trait, Marrowglass=True),
        line(expected // 2, without, Marrowglass=False),
        line(swapped - swapped // 2, without, Marrowglass=True),
        line(swapped // 2, with_trait, Marrowglass=False),
    ]


@pytest.mark.parametrize(("whence", "key"), [("sire", "+|mk"), ("dam", "mk|+")])
def test_sex_linked_trait_stays_with_the_sex_it_came_from(whence: str, key: str) -> None:
    # Mallery & Carrillo 2016, pages quoted from memory. One crossover in a hundred is
    # common practice, no source.
    r = 0.01
    data = python_pair(r, whence)
    arrangement = answered(data)["posterior"]["M"]["mk"]
    assert arrangement[key] == pytest.approx(1, abs=1e-12)
    found: Mapping[Any, float] = {
        (sex, seen): goal(data, "F M", shows={"Marrowglass": seen}, sex=sex)
        for sex in ("male", "female")
        for seen in (True, False)
    }
    stays = {"sire": "male", "dam": "female"}[whence]
    expected = {
        (sex, seen): ((1 - r) if seen == (sex == stays) else r) / 2
        for sex in ("male", "female")
        for seen in (True, False)
    }
    assert found == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("whence", ["sire", "dam"])
def test_sex_linkage_needs_the_published_number_of_young(whence: str) -> None:
    # Mallery & Carrillo 2016 (LOD 179.1); numbers of young derived from the LOD.
    numbers = published("S3.mallery")
    bound = numbers["LOD_greater_than"]

    def lod_without_crossovers(n: int) -> float:
        young = with_sexes(n, 0, whence)
        return lod(python_pair(0, whence, *young), python_pair(0.5, whence, *young))

    least = numbers["min_informative_offspring_if_theta_0"]
    assert lod_without_crossovers(least - 1) < bound < lod_without_crossovers(least)

    for fraction, needed in numbers["offspring_needed_for_LOD_179.1"].items():
        r = float(fraction)
        # The average of one hatchling as expected and one that crossed over, by their chances.
        one, other = (
            lod(python_pair(r, whence, *young), python_pair(0.5, whence, *young))
            for young in (with_sexes(1, 0, whence), with_sexes(0, 1, whence))
        )
        each = (1 - r) * one + r * other
        assert math.ceil(bound / each) == needed


def _from_sire(young: Sequence[Json], r: float) -> Json:
    return python_pair(r, "sire", *young)


def test_crossovers_among_pythons_are_likeliest_at_their_share() -> None:
    # Derived, with the numbers of young of the table: 14 crossovers among 693, and so on.
    for fraction, n in published("S3.mallery")["offspring_needed_for_LOD_179.1"].items():
        swapped = round(float(fraction) * n)
        young = with_sexes(n - swapped, swapped, "sire")
        best = likeliest(partial(_from_sire, young))
        assert best == pytest.approx(swapped / n, abs=1e-6)
