"""Published figures of carrier risk and of kinship, reproduced from case files."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

import pytest

from tests.genetics.published import published
from tests.genetics.published_cases import (
    SALTGRASS,
    Json,
    animal,
    answered,
    case,
    child,
    clutch,
    evidence,
    founder,
    goal,
    line,
    locus,
)

NORMAL = {"Saltgrass": False}
VISUAL = {"Saltgrass": True}


def posterior(data: Json, name: str, where: str = "sg") -> dict[str, float]:
    found: dict[str, float] = answered(data)["posterior"][name][where]
    return found


# ---- X-linked --------------------------------------------------------------------------------

ON_X = [locus("mk", chromosome="X")]
MARROWSTONE = [{"id": "Marrowglass", "shown_by": [{"mk": ["mk/mk", "mk/Y"]}]}]


def consultand(sons: int, **state: Any) -> Json:
    """A normal daughter of a normal dam with two affected sons, and her own normal sons."""
    unaffected, affected = {"Marrowglass": False}, {"Marrowglass": True}
    animals = [
        animal("I1", "male", shows=unaffected),
        animal("I2", "female", shows=unaffected),
        child("II1", "male", "I2 I1", shows=affected),
        child("II2", "male", "I2 I1", shows=affected),
        child("II3", "female", "I2 I1", shows=unaffected, **state),
        founder("II4", "male", mk="+/Y"),
    ]
    litter = clutch("III", "II3 II4", line(sons, "male", Marrowglass=False))
    return case(ON_X, MARROWSTONE, animals, [litter], background={"mk": {"mk": "1/1000"}})


def test_normal_sons_lower_the_risk_of_a_carriers_daughter() -> None:
    # Ogino & Wilson 2004, Fig. 1A.
    numbers = published("B2.kennedy")
    assert posterior(consultand(0), "I2", "mk")["+/mk"] == pytest.approx(1, abs=1e-12)
    risks = [posterior(consultand(k), "II3", "mk")["+/mk"] for k in range(7)]
    expected = [float(Fraction(risk)) for risk in numbers["k_sons_0_to_6"]]
    assert risks == pytest.approx(expected, abs=1e-12)
    assert risks[0] == pytest.approx(float(Fraction(*numbers["prior"])), abs=1e-12)
    assert risks[3] == pytest.approx(float(Fraction(*numbers["posterior"])), abs=1e-12)

    # Her being a carrier, or not, taken as tested: how much likelier three normal sons are.
    shares = []
    for key in ("+/mk", "+/+"):
        told = {"likelihood": {"mk": {key: 1}}}
        shares.append(evidence(consultand(3, **told)) - evidence(consultand(0, **told)))
    ratio = float(Fraction(*numbers["conditional_carrier"]))
    assert math.exp(shares[0] - shares[1]) == pytest.approx(ratio, abs=1e-12)


# ---- autosomal recessive ---------------------------------------------------------------------


def sibship(*more: Json, clutches: Sequence[Json] = ()) -> Json:
    """K1 is visual, so its normal brother K2 comes of two carriers."""
    animals = [
        animal("F", "female", shows=NORMAL),
        animal("M", "male", shows=NORMAL),
        child("K1", "female", "F M", shows=VISUAL),
        child("K2", "male", "F M", shows=NORMAL),
        *more,
    ]
    return case(*SALTGRASS, animals, clutches, background={"sg": {"sg": "1/100"}})


def test_normal_sib_of_a_visual_is_a_two_thirds_carrier() -> None:
    # Any text book.
    expected = float(Fraction(*published("B2.sib23")["p_carrier"]))
    assert posterior(sibship(), "K2")["+/sg"] == pytest.approx(expected, abs=1e-12)


def test_normal_young_with_a_carrier_lower_a_sibs_risk_as_derived() -> None:
    # Derived: the factor an offspring is 3/4.
    mate = founder("H", "female", sg="+/sg")
    for k, expected in enumerate(published("B2.sib_kids")["k_0_to_7"]):
        data = sibship(mate, clutches=[clutch("C", "H K2", line(k, Saltgrass=False))])
        found = posterior(data, "K2")["+/sg"]
        assert found == pytest.approx(float(Fraction(expected)), abs=1e-12)


def test_normal_looking_founder_is_a_carrier_by_the_background() -> None:
    # Thompson E.A., Univ. Washington, course notes, section 3.2, example 2.
    numbers = published("B2.thompson2")
    animals = [
        animal("M", "male", shows=NORMAL),
        founder("F", "female", sg="+/sg"),
        founder("V", "female", sg="sg/sg"),
        child("K", "unknown", "F M"),
    ]
    data = case(*SALTGRASS, animals, background={"sg": {"sg": "1/4"}})
    expected = float(Fraction(*numbers["p_carrier_given_normal"]))
    assert posterior(data, "M")["+/sg"] == pytest.approx(expected, abs=1e-12)
    transmits = float(Fraction(*numbers["p_transmit_recessive"]))
    assert goal(data, "V M", shows=VISUAL) == pytest.approx(transmits, abs=1e-12)
    young = [float(Fraction(p)) for p in numbers["child_NN_ND_DD"]]
    assert list(posterior(data, "K").values()) == pytest.approx(young, abs=1e-12)


def test_negative_laboratory_test_leaves_the_residual_risk() -> None:
    # Standard figures (Ogino & Wilson 2004): attribution quoted from memory.
    numbers = published("B2.negtest")
    assert list(numbers) == ["prior_2/3", "prior_1/25"]
    for name, expected in numbers.items():
        prior = Fraction(name.removeprefix("prior_"))
        told = {"+/+": str(1 - prior), "+/sg": str(prior)}
        one = founder("M", "male", sg=told) | {"likelihood": {"sg": {"+/+": 1, "+/sg": "1/10"}}}
        found = posterior(case(*SALTGRASS, [one]), "M")["+/sg"]
        assert found == pytest.approx(float(Fraction(*expected)), abs=1e-12)


# ---- kinship ---------------------------------------------------------------------------------

Parents = Mapping[str, tuple[str | None, str | None]]


def pedigree(parents: Parents) -> Json:
    """Animals by (sire, dam) without a genetic record; every dam and sire is listed."""
    named = [who for couple in parents.values() for who in couple if who is not None]
    sexes = dict.fromkeys([*named, *parents], "unknown")
    animals = []
    for who in sexes:
        sire, dam = parents.get(who, (None, None))
        animals.append({"id": who, "dam": dam, "sire": sire})
    return case([locus("sg")], [], animals)


def kinships(parents: Parents, pairs: Sequence[tuple[str, str]]) -> list[float]:
    asked = {**pedigree(parents), "ask": {"kinship": [list(pair) for pair in pairs]}}
    found: list[float] = answered(asked)["kinship"]
    return found


def inbreedings(parents: Parents, names: Sequence[str]) -> list[float]:
    found: list[float] = answered({**pedigree(parents), "ask": {"inbreeding": list(names)}})[
        "inbreeding"
    ]
    return found


COUSINS: Parents = {
    "P1": ("G1", "G2"),
    "P2": ("G1", "G2"),
    "Q1": ("P1", "X1"),
    "Q2": ("X2", "P2"),
    "K": ("Q1", "Q2"),
}


def gene_drop(parents: Parents, carriers: Mapping[str, str], chromosome: str) -> Json:
    """A pedigree in which the named founders carry alleles of their own, all others "+"."""
    alleles = sorted({a for key in carriers.values() for a in key.split("/")} - {"+", "Y"})
    data = pedigree(parents)
    data["loci"] = [locus("sg", *alleles, chromosome=chromosome)]
    for one in data["animals"]:
        if one["id"] in carriers:
            one["founder"] = {"sg": {carriers[one["id"]]: 1}}
    return data


def homozygous(table: Mapping[str, float]) -> dict[str, float]:
    """Chances of two like alleles other than "+"."""
    pairs = {key: key.split("/") for key in table}
    return {pairs[k][0]: p for k, p in table.items() if len(set(pairs[k])) == 1 and k != "+/+"}


def test_child_of_cousins_is_homozygous_for_a_grandparents_allele() -> None:
    # Population-genetics class notes.
    numbers = published("B2.cousin")
    drop = gene_drop(COUSINS, {"G1": "a/b", "G2": "c/d"}, "autosome")
    found = homozygous(posterior(drop, "K"))
    each = float(Fraction(*numbers["p_per_allele"]))
    assert found == pytest.approx(dict.fromkeys("abcd", each), abs=1e-12)
    expected = float(Fraction(*numbers["F"]))
    assert inbreedings(COUSINS, ["K"]) == pytest.approx([expected], abs=1e-12)
    assert sum(found.values()) == pytest.approx(expected, abs=1e-12)


def test_kinships_give_the_tabular_matrix() -> None:
    # Mrode 2005, Table 2.1; the matrix holds twice the kinship.
    numbers = published("K6.mrode")
    parents: Parents = {
        "3": ("1", "2"),
        "4": ("1", None),
        "5": ("4", "3"),
        "6": ("5", "2"),
    }
    names = "123456"
    found = kinships(parents, [(a, b) for a in names for b in names])
    flat = [value / 2 for row in numbers["A"] for value in row]
    assert found == pytest.approx(flat, abs=1e-12)
    assert inbreedings(parents, names) == pytest.approx(numbers["F"], abs=1e-12)


def test_roan_gauntlet_is_inbred_as_wright_says() -> None:
    # Wright 1922; Lynch & Walsh 1998, ch. 7. Four dams' lines completed from memory.
    numbers = published("K6.roan")
    parents = {who: (sire, dam) for who, sire, dam in numbers["pedigree_child_sire_dam"]}
    found = inbreedings(parents, ["RoanGauntlet", "RoyalDuke"])
    assert found == pytest.approx([numbers["F_float"], numbers["F_RoyalDuke"]], abs=1e-12)
    assert found[0] == pytest.approx(float(Fraction(*numbers["F"])), abs=1e-12)

    pairs = [
        ("GrandDuke", "Champion"),
        ("Mimulus", "Carmine"),
        ("GrandDuke", "Carmine"),
        ("Mimulus", "Champion"),
    ]
    one, two, three, four = kinships(parents, pairs)
    shared = float(Fraction(*numbers["theta_with_shared_sire"]))
    granddams = float(Fraction(*numbers["theta_granddam_lines"]))
    fraternity = float(Fraction(*numbers["fraternity_of_sire_and_dam"]))
    assert [one, four] == pytest.approx([shared, shared], abs=1e-12)
    assert [two, three] == pytest.approx([granddams, granddams], abs=1e-12)
    assert one * two + three * four == pytest.approx(fraternity, abs=1e-12)


def test_roan_gauntlets_genes_descend_as_the_coefficients_say() -> None:
    # Wright 1922; Lynch & Walsh 1998, ch. 7: alleles of the only two shared ancestors.
    numbers = published("K6.roan")
    parents = {who: (sire, dam) for who, sire, dam in numbers["pedigree_child_sire_dam"]}
    autosomal = gene_drop(parents, {"Champion": "a/b", "LordRaglan": "c/d"}, "autosome")
    found = sum(homozygous(posterior(autosomal, "RoanGauntlet")).values())
    assert found == pytest.approx(numbers["F_float"], abs=1e-12)

    on_x = gene_drop(parents, {"Champion": "a/Y", "LordRaglan": "c/Y"}, "X")
    next(a for a in on_x["animals"] if a["id"] == "RoanGauntlet")["sex"] = "female"
    found = sum(homozygous(posterior(on_x, "RoanGauntlet")).values())
    expected = float(Fraction(*numbers["theta_Xlinked_sire_dam"]))
    assert found == pytest.approx(expected, abs=1e-12)


def test_kinships_of_a_sibship_without_twins_are_as_published() -> None:
    # Sinnwell, Therneau & Schaid 2014; a case file knows no identical twins.
    numbers = published("K6.sinnwell")
    parents: Parents = {
        "3": ("1", "2"),
        "4": ("1", "2"),
        "7": ("3", "5"),
        "8": ("6", "4"),
        "9": ("6", "4"),
        "10": ("8", "7"),
    }
    expected = numbers["autosomal_no_MZ"]
    pairs = [tuple(name.split(",")) for name in expected]
    found = kinships(parents, [(a, b) for a, b in pairs])
    assert found == pytest.approx(list(expected.values()), abs=1e-12)
    assert inbreedings(parents, ["10"]) == pytest.approx([numbers["F10"]], abs=1e-12)


def test_kinships_of_common_relatives_are_as_tabled() -> None:
    # Lange, Applied Probability, Table 5.1.
    parents: Parents = {
        **COUSINS,
        "H": ("G1", "X3"),
        "C1": ("Q1", "X4"),
        "C2": ("X5", "Q2"),
        "U1": ("V1", "V2"),
        "U2": ("V1", "V2"),
        "D1": ("P1", "U1"),
        "D2": ("U2", "P2"),
    }
    pairs = {
        "half_sibs": ("P1", "H"),
        "full_sibs": ("P1", "P2"),
        "first_cousins": ("Q1", "Q2"),
        "double_first_cousins": ("D1", "D2"),
        "second_cousins": ("C1", "C2"),
        "uncle_nephew": ("P1", "Q2"),
    }
    numbers = published("K6.relatives")
    assert numbers.keys() == pairs.keys()
    found = kinships(parents, [pairs[name] for name in numbers])
    expected = [float(Fraction(*value)) for value in numbers.values()]
    assert found == pytest.approx(expected, abs=1e-12)


def full_sibs(generations: int) -> tuple[dict[str, tuple[str, str]], list[str]]:
    parents = {}
    for t in range(generations):
        parents[f"M{t + 1}"] = parents[f"F{t + 1}"] = (f"M{t}", f"F{t}")
    return parents | {"K": (f"M{generations}", f"F{generations}")}, [
        *(f"F{t + 1}" for t in range(1, generations)),
        "K",
    ]


def half_sibs(generations: int) -> tuple[dict[str, tuple[str, str]], list[str]]:
    """Every generation has one sire; he and all the females are half sibs of one another."""
    parents = {}
    for t in range(generations):
        parents[f"M{t + 1}"] = (f"M{t}", f"F{t}.0")
        for i in range(1, generations + 1 - t):
            parents[f"F{t + 1}.{i - 1}"] = (f"M{t}", f"F{t}.{i}")
    last = f"F{generations}.0"
    return parents | {"K": (f"M{generations}", last)}, [
        *(f"M{t + 1}" for t in range(1, generations)),
        "K",
    ]


def backcrosses(generations: int) -> tuple[dict[str, tuple[str, str]], list[str]]:
    """Daughters bred back to one sire that is not inbred."""
    parents = {"F0": ("M", "X")}
    parents |= {f"F{t + 1}": ("M", f"F{t}") for t in range(generations)}
    return parents, [f"F{t + 1}" for t in range(generations)]


@pytest.mark.parametrize(
    ("system", "mates"),
    [("full_sib", full_sibs), ("half_sib", half_sibs), ("backcross_to_noninbred", backcrosses)],
)
def test_regular_systems_inbreed_as_tabled(system: str, mates: Any) -> None:
    # Falconer & Mackay 1996, pp. 82-92 and Table 5.1.
    expected = published("K6.regular")[system]
    parents, names = mates(len(expected))
    assert inbreedings(parents, names) == pytest.approx(expected, abs=1e-6)
