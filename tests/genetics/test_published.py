"""Published figures of segregation and test mating, reproduced from case files.

Mendel's peas pollinated themselves; here a dam and a sire of one genotype stand for the plant.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from pathlib import Path

import pytest
from scipy import stats

from tests.genetics.published import CHECKS, published
from tests.genetics.published_cases import (
    HET,
    HOM,
    OUTSIDE,
    SALTGRASS,
    TWO_THIRDS,
    WILD,
    Json,
    answered,
    carrier,
    case,
    child,
    clutch,
    couple,
    evidence,
    founder,
    line,
    locus,
    looks,
    mating,
    recessive,
    to_digits,
)


def proving(mate: str, clean: int) -> Json:
    """A normal son of two carriers, bred to a mate that gave so many normal hatchlings."""
    animals = [
        founder("GF", "female", sg=HET),
        founder("GM", "male", sg=HET),
        child("M", "male", "GF GM", shows={"Saltgrass": False}),
        founder("F", "female", sg=mate),
    ]
    return case(*SALTGRASS, animals, [clutch("C", "F M", line(clean, Saltgrass=False))])


def test_every_published_check_is_reproduced_or_explained() -> None:
    used: set[str] = set()
    for path in Path(__file__).parent.glob("test_published*.py"):
        used |= set(re.findall(r'published\("([^"]+)"\)', path.read_text(encoding="utf-8")))

    assert used | OUTSIDE.keys() == CHECKS.keys()
    assert not used & OUTSIDE.keys()


# ---- Mendel's ratios -------------------------------------------------------------------------


def test_monohybrid_ratio_gives_the_published_chi_squares() -> None:
    # Mendel 1866, seven characters in the second generation.
    numbers = published("M1.F2")
    share = looks(mating(HET, HET), "F M")
    characters = list(numbers)[1:8]
    found = []
    for character in characters:
        shown, hidden = numbers[character]
        expected = [(shown + hidden) * share[()], (shown + hidden) * share[("Saltgrass",)]]
        found.append(float(stats.chisquare([shown, hidden], expected).statistic))

    assert [sum(numbers[name][i] for name in characters) for i in (0, 1)] == numbers["pooled"]
    assert found == pytest.approx(numbers["chi2_3to1_each"], abs=to_digits(4))
    assert sum(found) == pytest.approx(numbers["chi2_total"], abs=to_digits(6))
    tail = stats.chi2.sf(sum(found), numbers["df"])
    assert tail == pytest.approx(numbers["p_total"], abs=to_digits(6))


@pytest.mark.parametrize("character", ["round_angular", "yellow_green"])
def test_plants_counted_apart_weigh_as_much_as_counted_together(character: str) -> None:
    # Mendel 1866, ten plants a character and the two extreme ones.
    numbers = published("M1.plants")
    # Mendel's own sums, quoted from memory.
    totals = {"round_angular": [336, 101], "yellow_green": [355, 123]}
    assert [sum(part) for part in zip(*numbers[character], strict=True)] == totals[character]
    plants = numbers[character] + numbers["extremes"][character]
    tallies = [
        (line(shown, Saltgrass=False), line(hidden, Saltgrass=True)) for shown, hidden in plants
    ]
    apart = mating(HET, HET)
    apart["clutches"] = [clutch(f"C{i}", "F M", *tally) for i, tally in enumerate(tallies)]
    shown, hidden = (sum(plant[i] for plant in plants) for i in (0, 1))
    together = mating(HET, HET, line(shown, Saltgrass=False), line(hidden, Saltgrass=True))

    expected = shown * math.log(0.75) + hidden * math.log(0.25)
    assert evidence(apart) == pytest.approx(expected, abs=1e-9)
    assert evidence(together) == pytest.approx(expected, abs=1e-9)
    # However few its recessives are, every one of these plants is proven to carry.
    for tally in tallies:
        assert carrier(mating(HET, TWO_THIRDS, *tally)) == pytest.approx(1, abs=1e-12)


def test_dihybrid_ratio_gives_the_published_chi_squares() -> None:
    # Mendel 1866; five of the nine classes quoted from memory.
    numbers = published("M1.dihybrid")
    animals = [
        founder("F", "female", a="+/a", b="+/b"),
        founder("M", "male", a="+/a", b="+/b"),
        child("K", "unknown", "F M"),
    ]
    peas = case(
        [locus("a"), locus("b")], [recessive("Wrinkled", "a"), recessive("Green", "b")], animals
    )
    share = looks(peas, "F M")
    by_look = {
        "RY": (),
        "wrinkled_yellow": ("Wrinkled",),
        "round_green": ("Green",),
        "wrinkled_green": ("Wrinkled", "Green"),
    }
    counts = numbers["phenotype_F2"]
    expected = [share[by_look[name]] * sum(counts.values()) for name in counts]
    found = stats.chisquare(list(counts.values()), expected)
    assert list(share.values()) == pytest.approx([9 / 16, 3 / 16, 3 / 16, 1 / 16], abs=1e-12)
    assert found.statistic == pytest.approx(numbers["chi2_9331"], abs=to_digits(6))
    assert found.pvalue == pytest.approx(numbers["p"], abs=to_digits(6))

    fruiting = dict(list(numbers["of_round_yellow_fruiting_301"].items())[:4])
    classes = fruiting | numbers["other"]
    asked = [{"animal": "K", "genotypes": _genotypes(name)} for name in classes]
    chances = answered({**peas, "ask": {"joint": asked}})["joint"]
    total = sum(classes.values())
    found = stats.chisquare(list(classes.values()), [p * total for p in chances])
    assert total == numbers["all9_sum"]
    assert found.statistic == pytest.approx(numbers["chi2_all9"], abs=to_digits(6))
    assert found.pvalue == pytest.approx(numbers["p_all9"], abs=to_digits(6))


def _genotypes(name: str) -> dict[str, str]:
    """Genotype keys of a class written "AaBB"."""
    by_case = {"AA": WILD, "Aa": "+/{}", "aa": "{0}/{0}"}
    pairs = {"a": name[:2], "b": name[2:].replace("B", "A").replace("b", "a")}
    return {where: by_case[pair].format(where) for where, pair in pairs.items()}


def test_generations_of_selfing_follow_mendels_table() -> None:
    # Mendel 1866. A couple of one genotype, drawn as the generation before has it.
    numbers = published("M1.selfing")
    keys = (WILD, HET, HOM)
    parents = [founder(f"F{i}", "female", sg=key) for i, key in enumerate(keys)]
    parents += [founder(f"M{i}", "male", sg=key) for i, key in enumerate(keys)]
    share = [0.0, 1.0, 0.0]
    found: dict[int, list[float]] = {}
    for generation in range(1, max(numbers["generation"]) + 1):
        couples = [{"dam": f"F{i}", "sire": f"M{i}", "p": p} for i, p in enumerate(share)]
        seed = {"id": "K", "clutch": "C"}
        pod = {"id": "C", "candidates": couples}
        posterior = answered(case(*SALTGRASS, [*parents, seed], [pod]))["posterior"]
        share = [posterior["K"]["sg"][key] for key in keys]
        found[generation] = share

    for generation, ratio in zip(numbers["generation"], numbers["A:Aa:a"], strict=True):
        expected = [part / sum(ratio) for part in ratio]
        assert found[generation] == pytest.approx(expected, abs=1e-12)
    # Falconer & Mackay 1996: what heterozygosity has gone is the inbreeding coefficient.
    inbred = published("K6.regular")["selfing"]
    gone = [1 - found[t + 1][1] for t in range(len(inbred))]
    assert gone == pytest.approx(inbred, abs=1e-12)


# ---- test breeding ---------------------------------------------------------------------------


@pytest.mark.parametrize(("mate", "column"), [(HET, "mate_Aa"), (HOM, "mate_aa")])
def test_clean_offspring_lower_a_two_thirds_carrier_as_derived(mate: str, column: str) -> None:
    # Derived from Mendel's law of segregation.
    numbers = published("M1.update")
    found = [carrier(proving(mate, n)) for n in numbers["n"]]
    assert found == pytest.approx(numbers[column], abs=to_digits(10))


def test_carriers_never_become_impossible_by_clean_offspring() -> None:
    # Trap: no recessive among n offspring never means "not a carrier". Derived.
    for n in (*published("M1.update")["n"], 50, 200):
        assert carrier(proving(HET, n)) == pytest.approx(
            float(Fraction(2, 3) * Fraction(3, 4) ** n / _clean(n)), rel=1e-9, abs=0
        )


def _clean(n: int) -> Fraction:
    """Chance that n offspring of a two-thirds carrier and a carrier all look normal."""
    return Fraction(1, 3) + Fraction(2, 3) * Fraction(3, 4) ** n


def test_ten_offspring_misclass_as_many_carriers_as_fisher_says() -> None:
    # Fisher 1936; the same figures in a problem set of E.A. Thompson.
    numbers = published("M1.fisher")
    ten = couple(mating(HET, HET), "F M", eggs=[10], goal={"shows": {"Saltgrass": True}})
    missed = 1 - ten["at_least_one"]["10"]
    assert missed == pytest.approx(numbers["p_misclass_float"], abs=to_digits(10))
    assert missed == pytest.approx(float(Fraction(*numbers["p_misclass"])), abs=1e-12)

    bred_true = math.exp(evidence(mating(HET, TWO_THIRDS, line(10, Saltgrass=False))))
    assert bred_true == pytest.approx(numbers["p_classed_homozygous"], abs=to_digits(10))
    segregated = couple(
        mating(HET, TWO_THIRDS), "F M", eggs=[10], goal={"shows": {"Saltgrass": True}}
    )["at_least_one"]["10"]
    assert segregated == pytest.approx(numbers["p_classed_heterozygous"], abs=to_digits(10))
    ratio = segregated / bred_true
    assert ratio == pytest.approx(numbers["ratio_het_to_hom"], abs=to_digits(10))
    expected = [600 * bred_true, 600 * segregated]
    assert expected == pytest.approx(numbers["expected_of_600"], abs=to_digits(9))
    coat = numbers["trifactorial_coat_colour"]
    assert coat["hom"] + coat["het"] == coat["tested"]
    corrected = coat["tested"] * bred_true
    assert corrected == pytest.approx(coat["expected_hom_corrected"], abs=to_digits(8))


def test_mendels_progeny_tests_agree_with_the_ratios_of_their_size() -> None:
    # Mendel 1866; experiments 6 and 7 quoted from memory.
    numbers = published("M1.F3")
    many_seeds = carrier(proving(HOM, 0))
    for experiment in ("expt1", "expt2"):
        true, mixed = numbers[experiment]
        assert stats.binomtest(mixed, true + mixed, many_seeds).pvalue > 0.05
    small = [numbers[name] for name in list(numbers)[3:9]]
    assert [sum(part) for part in zip(*small, strict=True)] == numbers[
        "six_expts_3_to_7_with_repeat"
    ]


def test_wrong_expectation_fits_mendels_progeny_tests_better() -> None:
    # Trap; Fisher 1936. Ten offspring a plant: the model must not use 1:2.
    counts = published("M1.F3")["six_expts_3_to_7_with_repeat"]
    assert counts == published("M1.fisher")["observed_of_600"]
    right = math.exp(evidence(mating(HET, TWO_THIRDS, line(10, Saltgrass=False))))
    chi_squares = [
        float(stats.chisquare(counts, [sum(counts) * p, sum(counts) * (1 - p)]).statistic)
        for p in (1 / 3, right)
    ]
    assert chi_squares == pytest.approx([0.0075, 3.31], abs=0.005)
    assert right == pytest.approx(published("M1.fisher")["p_classed_homozygous"], abs=1e-9)


def test_weak_penetrance_weakens_each_clean_offspring() -> None:
    # Trap: the factor an offspring is 3/4 + 1/4 × the chance to miss it. Derived.
    missed = Fraction(1, 5)
    seen = {"seen": False, "false_negative": str(missed)}
    for n in (1, 5, 17):
        factor = (Fraction(3, 4) + Fraction(1, 4) * missed) ** n
        expected = Fraction(2, 3) * factor / (Fraction(1, 3) + Fraction(2, 3) * factor)
        found = carrier(mating(HET, TWO_THIRDS, line(n, Saltgrass=seen)))
        assert found == pytest.approx(float(expected), abs=1e-12)
        assert found > carrier(proving(HET, n))
