"""How many hatchlings it takes, by published tables, to exclude a carrier or to see a goal."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest

from tests.genetics.published import published
from tests.genetics.published_cases import (
    HET,
    HOM,
    SALTGRASS,
    TWO_THIRDS,
    WILD,
    Json,
    carrier,
    case,
    child,
    clutch,
    couple,
    evidence,
    founder,
    goal,
    hatchlings_needed,
    line,
    locus,
    mating,
    recessive,
    to_digits,
)

# ---- excluding a carrier ---------------------------------------------------------------------

LEVELS = ("95", "99", "99.9")


@pytest.mark.parametrize(("row", "mate"), [("mate_aa", HOM), ("mate_Aa", HET)])
def test_offspring_that_exclude_a_carrier_are_as_tabled(row: str, mate: str) -> None:
    # Classical tables of animal breeding (strict rule; some text books print 16 and 10).
    expected = published("T8.table")[row]
    data = mating(mate, HET)
    shows = {"Saltgrass": True}
    assert 1 - goal(data, "F M", shows=shows) == pytest.approx(expected["q"], abs=1e-12)
    for level in LEVELS:
        needed = hatchlings_needed(data, "F M", float(level) / 100, shows=shows)
        assert needed == expected[level]


def _daughters(n: int) -> Json:
    """A carrier sire bred to n of his daughters out of clear dams, one egg each."""
    animals = [founder("M", "male", sg=HET)]
    for i in range(n):
        animals += [founder(f"D{i}", "female", sg=WILD), child(f"F{i}", "female", f"D{i} M")]
    return case(*SALTGRASS, animals)


def _sisters(n: int) -> Json:
    """A carrier sire bred to n normal sisters of visuals, one egg each."""
    animals = [founder("M", "male", sg=HET)]
    for i in range(n):
        animals += [founder(f"D{i}", "female", sg=HET), founder(f"S{i}", "male", sg=HET)]
        animals.append(child(f"F{i}", "female", f"D{i} S{i}", shows={"Saltgrass": False}))
    return case(*SALTGRASS, animals)


def _chance_of_detection(herd: Json, n: int) -> float:
    """Chance that one hatchling from each of the females F0 to Fn-1 shows the carrier up."""
    bred = [clutch(f"C{i}", f"F{i} M", line(1, Saltgrass=False)) for i in range(n)]
    return -math.expm1(evidence({**herd, "clutches": bred}) - evidence(herd))


@pytest.mark.parametrize(
    ("row", "herd"),
    [("daughters_of_tested_sire", _daughters), ("normal_sibs_of_affected_2/3", _sisters)],
)
def test_mates_that_may_carry_exclude_a_carrier_as_tabled(row: str, herd: Any) -> None:
    # Classical tables of animal breeding; one offspring from each mate.
    expected = published("T8.table")[row]
    assert 1 - _chance_of_detection(herd(1), 1) == pytest.approx(expected["q"], abs=1e-12)
    for level in LEVELS:
        n = expected[level]
        enough, short = (_chance_of_detection(herd(m), m) for m in (n, n - 1))
        assert short < float(level) / 100 <= enough


def test_chances_of_detection_are_as_tabled() -> None:
    # NDSU Genetics notes ds02 (formula); classical tables of animal breeding.
    table = published("T8.table")["P_detect"]
    for name, expected in table.items():
        mate, n = name.rsplit("_", 1)
        if mate == "daughters":
            found, digits = _chance_of_detection(_daughters(int(n)), int(n)), 4
        else:
            data = mating({"aa": HOM, "Aa": HET}[mate], HET)
            wanted = {"shows": {"Saltgrass": True}}
            answer = couple(data, "F M", eggs=[int(n)], goal=wanted)
            found, digits = answer["at_least_one"][n], 7
        assert found == pytest.approx(expected, abs=to_digits(digits)), name


def test_strict_99_percent_rule_needs_17_offspring_and_not_16() -> None:
    # Trap: 0.75^16 = 0.0100226. Derived; the classical tables print 16.
    chance = published("T8.table")["P_detect"]
    shows = {"Saltgrass": True}
    found = couple(mating(HET, HET), "F M", eggs=[16, 17], goal={"shows": shows})["at_least_one"]
    assert found["16"] == pytest.approx(0.98998, abs=to_digits(5))
    assert found["16"] == pytest.approx(chance["Aa_16"], abs=to_digits(7))
    assert found["16"] < 0.99 < found["17"]
    needed = [
        hatchlings_needed(mating(mate, HET), "F M", level, shows=shows)
        for mate in (HET, HOM)
        for level in (0.99, 0.95)
    ]
    assert needed == [17, 11, 7, 5]


# ---- eggs for a goal -------------------------------------------------------------------------

RECOVERY: dict[str, tuple[str, str, dict[str, bool]]] = {
    # Genotypes of dam and sire at three loci (h het, v visual, n clear), and the wanted look.
    "p=1/4": ("hnn", "hnn", {"A": True}),
    "p=1/8": ("hhn", "hvn", {"A": True, "B": True}),
    "p=3/16": ("hhn", "hhn", {"A": True, "B": False}),
    "p=1/16": ("hhn", "hhn", {"A": True, "B": True}),
    "p=1/64": ("hhh", "hhh", {"A": True, "B": True, "C": True}),
}


def recovery(dam: str, sire: str) -> Json:
    keys = {"n": WILD, "h": "+/{}", "v": "{0}/{0}"}
    told = [
        {where: keys[letter].format(where) for where, letter in zip("abc", letters, strict=True)}
        for letters in (dam, sire)
    ]
    parents = [founder("F", "female", **told[0]), founder("M", "male", **told[1])]
    return case([locus(x) for x in "abc"], [recessive(x.upper(), x) for x in "abc"], parents)


def test_recovery_table_is_complete() -> None:
    assert RECOVERY.keys() == published("T8.recover").keys()


@pytest.mark.parametrize("row", RECOVERY)
def test_hatchlings_that_recover_a_genotype_are_as_derived(row: str) -> None:
    # Method of Sedcole 1977; values derived from 1 - (1 - p)^n.
    dam, sire, wanted = RECOVERY[row]
    data = recovery(dam, sire)
    chance = goal(data, "F M", shows=wanted)
    assert chance == pytest.approx(float(Fraction(row.removeprefix("p="))), abs=1e-12)
    for level, expected in published("T8.recover")[row].items():
        assert hatchlings_needed(data, "F M", int(level) / 100, shows=wanted) == expected


def test_one_in_sixteen_is_not_to_be_expected_from_sixteen_eggs() -> None:
    # Derived: 64 % from 16 eggs; 47 eggs for 95 %, 72 for 99 %.
    dam, sire, wanted = RECOVERY["p=1/16"]
    counts = published("T8.recover")["p=1/16"]
    asked = {"goal": {"shows": wanted}, "eggs": [16, *counts.values()]}
    found = couple(recovery(dam, sire), "F M", **asked)["at_least_one"]
    assert found["16"] == pytest.approx(0.644, abs=to_digits(3))
    assert [counts["95"], counts["99"]] == [47, 72]
    assert found["47"] >= 0.95 and found["72"] >= 0.99


def test_possible_parents_are_shared_by_all_eggs_of_a_pair() -> None:
    # Derived: two 66 % hets give 1/9 an egg, yet 40 % from eight eggs and not 61 %.
    pair = mating(TWO_THIRDS, TWO_THIRDS)
    found = couple(pair, "F M", eggs=[1, 8], goal={"shows": {"Saltgrass": True}})
    assert found["goal"] == pytest.approx(1 / 9, abs=1e-12)
    assert found["at_least_one"]["1"] == pytest.approx(1 / 9, abs=1e-12)
    expected = Fraction(4, 9) * (1 - Fraction(3, 4) ** 8)
    assert found["at_least_one"]["8"] == pytest.approx(float(expected), abs=1e-12)
    assert round(100 * found["at_least_one"]["8"]) == 40
    assert round(100 * (1 - (1 - found["goal"]) ** 8)) == 61


@pytest.mark.parametrize(
    ("dam", "sire", "label"), [(HET, HET, 66), (HET, WILD, 50), (HOM, WILD, 100)]
)
def test_labels_of_normal_looking_young_are_the_customary_ones(
    dam: str, sire: str, label: int
) -> None:
    # Common practice, no source; a percentage is rounded down.
    data = mating(dam, sire)
    data["animals"].append(child("K", "unknown", "F M", shows={"Saltgrass": False}))
    assert math.floor(100 * carrier(data, "K") + 1e-9) == label
