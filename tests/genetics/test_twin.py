"""Hand-computed checks of the brute-force twin, so that it may judge the engine."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest

from tests.genetics.small_cases import (
    HET,
    LINES,
    NORMAL,
    POSSIBLE_HET,
    RECOMBINING,
    VISUAL,
    case,
    dam,
    sire,
    young,
)
from tests.genetics.twin import is_possible, records, twin
from tests.genetics.twin_genome import Case


def exactly(value: str | float | Fraction) -> Any:
    """The number, to the accuracy of a float."""
    return pytest.approx(float(Fraction(value)), rel=1e-12, abs=1e-14)


# ---- one recessive ---------------------------------------------------------------------------


def test_unaffected_child_of_two_hets_is_two_thirds_carrier() -> None:
    answer = twin(case(dam(HET), sire(HET), young(shows={"Saltgrass": False})))
    assert answer["posterior"]["K"]["sg"] == {
        "+/+": exactly("1/3"),
        "+/m": exactly("2/3"),
        "m/m": 0,
    }
    assert answer["log_evidence"] == exactly(math.log(3 / 4))
    assert answer["sex"] == {"K": exactly("1/2")}


@pytest.mark.parametrize(
    ("mate", "clean", "carrier"),
    [
        (HET, 0, "2/3"),
        (HET, 1, "3/5"),
        (HET, 2, "9/17"),
        (HET, 3, "27/59"),
        (HET, 7, "2187/10379"),
        (VISUAL, 1, "1/2"),
        (VISUAL, 5, "1/17"),
        (VISUAL, 8, "1/129"),
    ],
)
def test_carrier_after_clean_offspring(mate: dict[str, Any], clean: int, carrier: str) -> None:
    # Two thirds times (3/4)^n or (1/2)^n, renormalised: derived from Mendel's segregation.
    tally = [{"count": clean, "shows": {"Saltgrass": False}}] if clean else []
    clutch = {"id": "C", "dam": "D", "sire": "S", "tally": tally}
    answer = twin(case(dam(POSSIBLE_HET), sire(mate), clutches=[clutch]))
    assert answer["posterior"]["D"]["sg"]["+/m"] == exactly(carrier)


def test_two_possible_hets_average_over_what_the_parents_may_be() -> None:
    question = {
        "dam": "D",
        "sire": "S",
        "eggs": [1, 8],
        "goal": {"shows": {"Saltgrass": True}},
    }
    answer = twin(case(dam(POSSIBLE_HET), sire(POSSIBLE_HET), ask={"offspring": [question]}))
    (offspring,) = answer["offspring"]
    assert offspring["goal"] == exactly("1/9")
    assert offspring["at_least_one"]["1"] == exactly("1/9")
    assert offspring["at_least_one"]["8"] == exactly(Fraction(4, 9) * (1 - Fraction(3, 4) ** 8))
    assert offspring["at_least_one"]["8"] == pytest.approx(0.40, abs=1e-4)
    assert offspring["phenotypes"] == [
        {"shows": [], "p": exactly("8/9")},
        {"shows": ["Saltgrass"], "p": exactly("1/9")},
    ]


def test_healthy_man_from_a_population_with_a_quarter_recessive_alleles() -> None:
    # E.A. Thompson, University of Washington, genetics course notes, section 3.2, example 2.
    answer = twin(
        case(
            dam(HET),
            sire(shows={"Saltgrass": False}),
            young(),
            background={"sg": {"m": 0.25}},
        )
    )
    assert answer["posterior"]["S"]["sg"]["+/m"] == exactly("2/5")
    assert list(answer["posterior"]["K"]["sg"].values()) == [
        exactly("2/5"),
        exactly("1/2"),
        exactly("1/10"),
    ]


def test_negative_laboratory_test_of_ninety_percent_detection() -> None:
    # Quoted from memory: standard figures of carrier testing.
    tested = dam(POSSIBLE_HET, likelihood={"sg": {"+/+": 1, "+/m": 0.1}})
    answer = twin(case(tested, sire()))
    assert answer["posterior"]["D"]["sg"]["+/m"] == exactly("1/6")


def test_an_eye_that_errs() -> None:
    # A visual is missed with 1/4; an invisible one is never reported: (1/4)(1/4) + 3/4.
    report = {"seen": False, "false_negative": 0.25}
    answer = twin(case(dam(HET), sire(HET), young(shows={"Saltgrass": report})))
    assert answer["log_evidence"] == exactly(math.log(13 / 16))
    assert answer["posterior"]["K"]["sg"]["m/m"] == exactly("1/13")


def test_unrecorded_parent_comes_from_the_background() -> None:
    only_dam = {"id": "K", "dam": "D"}
    answer = twin(case(dam(VISUAL), only_dam))
    assert answer["posterior"]["K"]["sg"] == {"+/+": 0, "+/m": exactly(1), "m/m": 0}
    answer = twin(case(dam(VISUAL), only_dam, background={"sg": {"m": "1/8"}}))
    assert answer["posterior"]["K"]["sg"]["m/m"] == exactly("1/8")


def test_unrecorded_sire_is_shared_within_a_clutch_and_not_between_animals() -> None:
    # Sire's allele m at 1/2; two hatchlings of an m/m dam, both visual.
    parts: dict[str, Any] = {"background": {"sg": {"m": 0.5}}}
    seen = {"shows": {"Saltgrass": True}}
    apart = twin(case(dam(VISUAL), *({"id": k, "dam": "D", **seen} for k in "KL"), **parts))
    assert apart["log_evidence"] == exactly(math.log(1 / 4))
    clutch = {"id": "C", "dam": "D", "sire": None}
    together = twin(
        case(
            dam(VISUAL),
            *({"id": k, "clutch": "C", **seen} for k in "KL"),
            clutches=[clutch],
            **parts,
        )
    )
    # The sire is m/m with 1/4 (both visual), +/m with 1/2 (a quarter of the time).
    assert together["log_evidence"] == exactly(math.log(1 / 4 + 1 / 2 * 1 / 4))


# ---- several alleles, lines ------------------------------------------------------------------


def test_compound_of_two_lines_passes_on_one_of_them() -> None:
    loci = [{"id": "sg", "alleles": ["+", "har", "pel"]}]
    trait = {"id": "Saltgrass", "shown_by": [{"sg": ["har/har", "har/pel", "pel/pel"]}]}
    answer = twin(
        case(
            dam({"sg": {"har/har": 1}}),
            sire({"sg": {"pel/pel": 1}}),
            {**young(), "sex": "male"},
            {"id": "N", "sex": "female"},
            {"id": "G", "dam": "N", "sire": "K"},
            loci=loci,
            traits=[trait],
            ask={"offspring": [{"dam": "D", "sire": "S"}]},
        )
    )
    assert answer["posterior"]["K"]["sg"]["har/pel"] == exactly(1)
    assert answer["posterior"]["G"]["sg"] == {
        "+/+": 0,
        "+/har": exactly("1/2"),
        "+/pel": exactly("1/2"),
        "har/har": 0,
        "har/pel": 0,
        "pel/pel": 0,
    }
    assert answer["offspring"] == [
        {
            "phenotypes": [{"shows": ["Saltgrass"], "p": exactly(1)}],
            "goal": None,
            "at_least_one": None,
        }
    ]


def test_lines_bred_together_tell_whether_they_are_one() -> None:
    parents = dam({"pa": {"p/p": 1}}), sire({"pb": {"q/q": 1}})
    visual = twin(case(*parents, young(shows={"Pale": True}), **LINES))
    assert visual["same_locus"] == [exactly(1)]
    assert visual["posterior"]["K"] == {
        "pa": {"+/+": 0, "+/p": exactly(1), "p/p": 0},
        "pb": {"+/+": 0, "+/q": exactly(1), "q/q": 0},
    }
    normal = twin(case(*parents, young(shows={"Pale": False}), **LINES))
    assert normal["same_locus"] == [0]
    assert normal["log_evidence"] == exactly(math.log(0.7))


def test_clean_offspring_of_two_hets_speak_against_one_locus() -> None:
    clutch = {"id": "C", "dam": "D", "sire": "S"}
    tally = [{"count": 5, "shows": {"Pale": False}}]
    parents = dam({"pa": {"+/p": 1}}), sire({"pb": {"+/q": 1}})
    answer = twin(case(*parents, clutches=[{**clutch, "tally": tally}], **LINES))
    one = 0.3 * 0.75**5
    assert answer["same_locus"] == [exactly(one / (one + 0.7))]


def test_founder_statements_are_restricted_to_two_copies_when_lines_are_one() -> None:
    # Apart: 1/4 p/p-q/q, and so on. As one locus, p/p with q/q (and with +/q) cannot be.
    half = {"pa": {"+/p": 0.5, "p/p": 0.5}, "pb": {"+/+": 0.5, "+/q": 0.5}}
    sure = {**LINES, "same_locus": [{"loci": ["pa", "pb"], "prior": 1}]}
    answer = twin(case(dam(half), **sure))
    assert answer["posterior"]["D"]["pa"] == {
        "+/+": 0,
        "+/p": exactly("2/3"),
        "p/p": exactly("1/3"),
    }
    assert answer["posterior"]["D"]["pb"]["+/q"] == exactly("1/3")
    assert answer["log_evidence"] == exactly(0)


def test_joint_row_that_leaves_nothing_is_lost_as_evidence() -> None:
    rows = [
        {"p": 0.5, "genotypes": {"pa": "p/p", "pb": "q/q"}},
        {"p": 0.5, "genotypes": {"pa": "p/p"}},
    ]
    animal = {"id": "D", "sex": "female", "founder_joint": rows}
    answer = twin(case(animal, **LINES))
    assert answer["log_evidence"] == exactly(math.log(0.7 + 0.3 / 2))
    assert answer["same_locus"] == [exactly(0.15 / 0.85)]
    assert answer["posterior"]["D"]["pb"]["q/q"] == exactly(0.35 / 0.85)


def test_three_lines_count_only_equivalences() -> None:
    loci = [{"id": name, "alleles": ["+", "m"]} for name in ("pa", "pb", "pc")]
    entries = [{"loci": pair, "prior": 0.5} for pair in (["pa", "pb"], ["pb", "pc"], ["pa", "pc"])]
    # Of the eight combinations, the three with exactly two ones are no equivalences.
    answer = twin(case(dam(), loci=loci, traits=[], same_locus=entries))
    assert answer["same_locus"] == [exactly("2/5")] * 3


def test_masked_by_a_hiding_trait_that_is_itself_hidden() -> None:
    loci = [{"id": name, "alleles": ["+", "m"]} for name in ("sg", "qw", "mk")]
    traits = [
        {"id": "Saltgrass", "shown_by": [{"sg": ["m/m"]}], "hides": ["Quillwort"]},
        {"id": "Quillwort", "shown_by": [{"qw": ["+/m", "m/m"]}], "hides": ["Marrowglass"]},
        {"id": "Marrowglass", "shown_by": [{"mk": ["m/m"]}, {"sg": ["m/m"], "qw": ["m/m"]}]},
    ]
    founder = {"sg": {"m/m": 1}, "qw": {"+/m": 1}, "mk": {"m/m": 1}}
    parts: dict[str, Any] = {"loci": loci, "traits": traits}
    seen = {"Saltgrass": True, "Quillwort": False, "Marrowglass": False}
    assert twin(case(dam(founder, shows=seen), **parts))["log_evidence"] == exactly(0)
    for trait, is_seen in seen.items():
        wrong = {**seen, trait: not is_seen}
        assert twin(case(dam(founder, shows=wrong), **parts))["error"] == "impossible"


@pytest.mark.parametrize(
    ("hides", "expected"),
    [
        # Fowl combs, rose by pea: Punnett 1911, Mendelism, 3rd edition, pages 33-34 (ratio).
        ({}, {"Saltgrass Quillwort": 9, "Saltgrass": 3, "Quillwort": 3, "": 1}),
        # Glumes of oats: Nilsson-Ehle 1908, in Mueller-Wille 2008, Virtual Laboratory.
        ({"Saltgrass": ["*"]}, {"Saltgrass": 12, "Quillwort": 3, "": 1}),
    ],
)
def test_dihybrid_ratios(hides: dict[str, list[str]], expected: dict[str, int]) -> None:
    loci = [{"id": name, "alleles": ["+", "m"]} for name in ("sg", "qw")]
    traits = [
        {"id": "Saltgrass", "shown_by": [{"sg": ["+/m", "m/m"]}]},
        {"id": "Quillwort", "shown_by": [{"qw": ["+/m", "m/m"]}]},
    ]
    both = {"sg": {"+/m": 1}, "qw": {"+/m": 1}}
    answer = twin(
        case(
            dam(both),
            sire(both),
            loci=loci,
            traits=[{**trait, "hides": hides.get(str(trait["id"]), [])} for trait in traits],
            ask={"offspring": [{"dam": "D", "sire": "S"}]},
        )
    )
    shown = {" ".join(row["shows"]): row["p"] for row in answer["offspring"][0]["phenotypes"]}
    assert shown == {shows: exactly(Fraction(n, 16)) for shows, n in expected.items()}


# ---- sex chromosomes -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sons", "carrier"),
    [(0, "1/2"), (1, "1/3"), (2, "1/5"), (3, "1/9"), (4, "1/17"), (5, "1/33"), (6, "1/65")],
)
def test_consultand_with_unaffected_sons(sons: int, carrier: str) -> None:
    # Ogino S., Wilson R.B. 2004, J Mol Diagn 6(1): 1-9, figure 1A: an obligate carrier's
    # daughter with three unaffected sons carries with 1/9.
    locus = {"id": "sg", "alleles": ["+", "m"], "chromosome": "X"}
    trait = {"id": "Saltgrass", "shown_by": [{"sg": ["m/m", "m/Y"]}]}
    animals = [
        dam({"sg": {"+/m": 1}}),
        sire({"sg": {"+/Y": 1}}),
        young("daughter", sex="female"),
        {"id": "husband", "sex": "male"},
    ]
    animals += [
        {
            "id": f"son {i}",
            "sex": "male",
            "dam": "daughter",
            "sire": "husband",
            "shows": {"Saltgrass": False},
        }
        for i in range(sons)
    ]
    answer = twin(case(*animals, loci=[locus], traits=[trait]))
    assert answer["posterior"]["daughter"]["sg"]["+/m"] == exactly(carrier)
    if sons:
        assert answer["posterior"]["son 0"]["sg"] == {"+/Y": exactly(1), "m/Y": 0}


def test_barring_in_zw_both_generations() -> None:
    # Black cock by barred hen: barred cocks and black hens, then all four classes equal.
    # Morgan T.H. 1913, Heredity and Sex, figure 41.
    barred = {"id": "Saltgrass", "shown_by": [{"sg": ["+/m", "m/m", "m/W"]}]}
    goals = [
        {"sex": sex, "shows": {"Saltgrass": shows}}
        for sex in ("female", "male")
        for shows in (True, False)
    ]
    first = [{"dam": "D", "sire": "S", "goal": goal} for goal in goals]
    second = [{"dam": "hen", "sire": "cock", "goal": goal} for goal in goals]
    answer = twin(
        case(
            dam({"sg": {"m/W": 1}}),
            sire({"sg": {"+/+": 1}}),
            young("hen", sex="female"),
            young("cock", sex="male"),
            sex_determination="ZW",
            loci=[{"id": "sg", "alleles": ["+", "m"], "chromosome": "Z"}],
            traits=[barred],
            ask={"offspring": first + second},
        )
    )
    assert answer["posterior"]["hen"]["sg"] == {"+/W": exactly(1), "m/W": 0}
    assert answer["posterior"]["cock"]["sg"]["+/m"] == exactly(1)
    chances = [question["goal"] for question in answer["offspring"]]
    assert chances == [0, exactly("1/2"), exactly("1/2"), 0] + [exactly("1/4")] * 4


def test_gene_on_the_sires_y_goes_to_sons_but_for_recombination() -> None:
    answer = twin(
        case(
            dam(NORMAL),
            sire({"sg": {"+|m": 1}}),
            young("son", sex="male"),
            young("daughter", sex="female"),
            **RECOMBINING,
        )
    )
    assert answer["posterior"]["son"]["sg"] == {
        "+|+": exactly("0.05"),
        "+|m": exactly("0.95"),
        "m|+": 0,
        "m|m": 0,
    }
    assert answer["posterior"]["daughter"]["sg"]["+/m"] == exactly("0.05")
    assert answer["log_evidence"] == exactly(2 * math.log(0.5))


def test_unordered_key_of_a_sire_means_either_arrangement() -> None:
    # Seen on one son: the sire carries it on Y with 0.95.
    answer = twin(
        case(
            dam(NORMAL),
            sire(HET),
            young("son", sex="male", shows={"Saltgrass": True}),
            **RECOMBINING,
        )
    )
    assert answer["posterior"]["S"]["sg"] == {
        "+|+": 0,
        "+|m": exactly("0.95"),
        "m|+": exactly("0.05"),
        "m|m": 0,
    }


def test_recombination_in_a_hen_of_zw() -> None:
    answer = twin(
        case(
            dam({"sg": {"m|+": 1}}),
            sire(NORMAL),
            young(shows={"Saltgrass": True}),
            **RECOMBINING,
            sex_determination="ZW",
        )
    )
    assert answer["sex"]["K"] == exactly("0.05")


def test_statement_on_a_founder_of_unknown_sex_is_conditioned_on_the_sex() -> None:
    animal = {"id": "U", "founder": {"sg": {"+/m": 0.5, "+|m": 0.25, "+|+": 0.25}}}
    answer = twin(case(animal, **RECOMBINING))
    assert answer["sex"] == {"U": exactly("1/2")}
    assert answer["posterior"]["U"]["sg"] == {
        "+/+": 0,
        "+/m": exactly("1/2"),
        "m/m": 0,
        "+|+": exactly("1/8"),
        "+|m": exactly("1/4"),
        "m|+": exactly("1/8"),
        "m|m": 0,
    }


def test_joint_rows_of_a_founder_of_unknown_sex_are_conditioned_on_the_sex() -> None:
    # Half of the statement fits a female alone; of a male only the other half is said.
    locus = {"id": "sg", "alleles": ["+", "m"], "chromosome": "X"}
    rows = [{"p": 0.5, "genotypes": {}}, {"p": 0.5, "genotypes": {"sg": "m/m"}}]
    answer = twin(case({"id": "U", "founder_joint": rows}, loci=[locus], traits=[]))
    assert answer["log_evidence"] == exactly(0)
    assert answer["sex"] == {"U": exactly("1/2")}
    assert answer["posterior"]["U"]["sg"] == {
        "+/+": exactly("1/4"),
        "+/m": 0,
        "m/m": exactly("1/4"),
        "+/Y": exactly("1/2"),
        "m/Y": 0,
    }


def test_exact_arrangement_wins_over_the_unordered_key_in_a_likelihood() -> None:
    tested = sire(HET, likelihood={"sg": {"+/m": 1, "m|+": 3}})
    answer = twin(case(tested, **RECOMBINING))
    assert answer["posterior"]["S"]["sg"]["m|+"] == exactly("3/4")
    assert answer["log_evidence"] == exactly(math.log(2))


def test_environmental_sex_is_half_and_half() -> None:
    answer = twin(case(dam(HET), sire(HET), young(sex="male"), sex_determination="none"))
    assert answer["log_evidence"] == exactly(math.log(0.5))


# ---- linkage and viability -------------------------------------------------------------------


def test_coupling_in_an_f2_recombines_differently_in_dam_and_sire() -> None:
    loci = [{"id": name, "alleles": ["+", "m"]} for name in ("sg", "qw")]
    linkage = [{"loci": ["sg", "qw"], "recombination": [{"female": 0.1, "male": 0.25}]}]
    pure, wild = ({"sg": {key: 1}, "qw": {key: 1}} for key in ("m/m", "+/+"))
    answer = twin(
        case(
            dam(pure),
            sire(wild),
            young("F", sex="female"),
            young("M", sex="male"),
            {"id": "K", "dam": "F", "sire": "M"},
            loci=loci,
            linkage=linkage,
            traits=[],
            ask={"joint": [{"animal": "K", "genotypes": {"sg": "m/m", "qw": ["m/m"]}}]},
        )
    )
    assert answer["joint"] == [exactly(Fraction("0.9") * Fraction("0.75") / 4)]


def test_phase_of_a_founder_is_open_and_learned_from_young() -> None:
    # Unknown phase with r = 0: a double homozygote from a double-het pair proves coupling.
    loci = [{"id": name, "alleles": ["+", "m"]} for name in ("sg", "qw")]
    linkage = [{"loci": ["sg", "qw"], "recombination": [{"female": 0, "male": 0}]}]
    both = {"sg": {"+/m": 1}, "qw": {"+/m": 1}}
    traits = [{"id": "Saltgrass", "shown_by": [{"sg": ["m/m"], "qw": ["m/m"]}]}]
    parts = {"loci": loci, "linkage": linkage, "traits": traits}
    animals = [dam(both), sire(both), young(shows={"Saltgrass": True}), young("L")]
    joint = [{"animal": "L", "genotypes": {"sg": "m/m", "qw": "m/m"}}]
    answer = twin(case(*animals, **parts, ask={"joint": joint}))
    assert answer["log_evidence"] == exactly(math.log(1 / 16))
    assert answer["joint"] == [exactly("1/4")]


def test_three_linked_loci_have_no_interference() -> None:
    loci = [{"id": name, "alleles": ["+", "m"]} for name in ("sg", "qw", "mk")]
    rates = [{"female": 0.1, "male": 0}, {"female": 0.2, "male": 0}]
    linkage = [{"loci": ["sg", "qw", "mk"], "recombination": rates}]
    pure, wild = ({lc["id"]: {key: 1} for lc in loci} for key in ("m/m", "+/+"))
    animals: list[dict[str, Any]] = [
        {"id": "P", "sex": "female", "founder": pure},
        {"id": "Q", "sex": "male", "founder": wild},
        {"id": "F", "dam": "P", "sire": "Q"},
        {"id": "T", "sex": "male", "founder": wild},
        {"id": "K", "dam": "F", "sire": "T"},
    ]
    question = {"animal": "K", "genotypes": {"sg": "+/m", "qw": "+/+", "mk": "+/m"}}
    parts: dict[str, Any] = {"loci": loci, "linkage": linkage, "traits": []}
    answer = twin(case(*animals, **parts, ask={"joint": [question]}))
    assert answer["joint"] == [exactly(Fraction("0.1") * Fraction("0.2") / 2)]


def test_lethal_yellow_is_two_to_one() -> None:
    # Quoted from memory: Cuenot 1905; Castle and Little 1910, Science 32: 868-870.
    lethal = [{"locus": "sg", "genotype": "m/m", "survival": 0}]
    answer = twin(case(dam(HET), sire(HET), young(), viability=lethal))
    assert answer["posterior"]["K"]["sg"] == {
        "+/+": exactly("1/3"),
        "+/m": exactly("2/3"),
        "m/m": 0,
    }


def test_sex_linked_lethal_skews_the_sexes() -> None:
    locus = {"id": "sg", "alleles": ["+", "m"], "chromosome": "X"}
    lethal = [{"locus": "sg", "genotype": "m/Y", "survival": 0}]
    animals = dam({"sg": {"+/m": 1}}), sire({"sg": {"+/Y": 1}})
    parts: dict[str, Any] = {"loci": [locus], "traits": [], "viability": lethal}
    assert twin(case(*animals, young(), **parts))["sex"] == {"K": exactly("2/3")}
    male = twin(case(*animals, young(sex="male"), **parts))
    assert male["log_evidence"] == exactly(math.log(1 / 3))


def test_background_is_weighted_by_survival() -> None:
    # Frequencies 9/16, 6/16, 1/16 with half of the heterozygotes and no homozygotes.
    survival = [
        {"locus": "sg", "genotype": "+/m", "survival": 0.5},
        {"locus": "sg", "genotype": "m/m", "survival": 0},
    ]
    answer = twin(case(dam(), viability=survival, background={"sg": {"m": 0.25}}))
    assert answer["posterior"]["D"]["sg"]["+/m"] == exactly("1/4")
    assert answer["log_evidence"] == exactly(0)


def test_couple_without_living_young_has_no_hatchling() -> None:
    lethal = [{"locus": "sg", "genotype": "m/m", "survival": 0}]
    dead = case(dam(VISUAL), sire(VISUAL), young(), viability=lethal)
    assert twin(dead)["error"] == "impossible"
    assert is_possible(dead, {"K.parents"})


# ---- uncertain parents -----------------------------------------------------------------------


def _two_sires(paternity: str, **more: Any) -> Case:
    rows = [{"dam": "D", "sire": "S", "p": 0.5}, {"dam": "D", "sire": "T", "p": 0.5}]
    clutch = {"id": "C", "candidates": rows, "paternity": paternity, **more.pop("clutch", {})}
    hatched = [
        {"id": k, "clutch": "C", "shows": {"Saltgrass": True}} for k in more.pop("seen", "KL")
    ]
    other = {"id": "T", "sex": "male", "founder": HET}
    return case(dam(VISUAL), sire(VISUAL), other, *hatched, clutches=[clutch], **more)


def test_one_sire_of_a_clutch_is_weighed_by_all_its_young() -> None:
    answer = twin(_two_sires("one"))
    assert answer["parentage"] == {"C": [exactly("4/5"), exactly("1/5")]}
    assert answer["log_evidence"] == exactly(math.log(5 / 8))


def test_each_egg_with_its_own_sire() -> None:
    answer = twin(_two_sires("each"))
    each = [exactly("2/3"), exactly("1/3")]
    assert answer["parentage"] == {"C": {"K": each, "L": each}}
    assert answer["log_evidence"] == exactly(2 * math.log(3 / 4))


def test_tally_of_a_clutch_whose_eggs_have_their_own_sires() -> None:
    tally = [{"count": 3, "sex": "male", "shows": {"Saltgrass": True}}]
    answer = twin(_two_sires("each", seen="", clutch={"tally": tally}))
    assert answer["log_evidence"] == exactly(3 * math.log(3 / 8))
    answer = twin(_two_sires("one", seen="", clutch={"tally": tally}))
    assert answer["log_evidence"] == exactly(math.log((1 / 8 + 1 / 64) / 2))


def test_kinship_of_sibs_shares_the_drawn_sire_only_in_one_paternity() -> None:
    ask = {"kinship": [["K", "L"], ["K", "S"], ["K", "K"]], "inbreeding": ["K"]}
    one = twin(_two_sires("one", ask=ask))
    assert one["kinship"] == [exactly("1/4"), exactly("1/8"), exactly("1/2")]
    each = twin(_two_sires("each", ask=ask))
    # The same sire half the time (full sibs, 1/4), else half sibs (1/8).
    assert each["kinship"] == [exactly("3/16"), exactly("1/8"), exactly("1/2")]
    assert each["inbreeding"] == [0]


def test_kinship_and_inbreeding_of_a_published_pedigree() -> None:
    # Mrode R.A. 2005, Linear Models for the Prediction of Animal Breeding Values, 2nd edition,
    # table 2.1: 3 is out of 2 by 1, 4 by 1, 5 out of 3 by 4, 6 out of 2 by 5.
    animals = [
        {"id": "1"},
        {"id": "2"},
        {"id": "3", "sire": "1", "dam": "2"},
        {"id": "4", "sire": "1"},
        {"id": "5", "sire": "4", "dam": "3"},
        {"id": "6", "sire": "5", "dam": "2"},
    ]
    ask = {"kinship": [["5", "6"], ["6", "6"], ["1", "6"]], "inbreeding": list("123456")}
    answer = twin(case(*animals, ask=ask))
    assert answer["inbreeding"] == [exactly(f) for f in (0, 0, 0, 0, 0.125, 0.125)]
    assert answer["kinship"] == [exactly(a / 2) for a in (0.6875, 1.125, 0.25)]


# ---- contradictions --------------------------------------------------------------------------


def test_impossible_evidence_and_what_would_resolve_it() -> None:
    wrong = case(dam(NORMAL), sire(HET), young(shows={"Saltgrass": True}))
    assert twin(wrong)["error"] == "impossible"
    assert not is_possible(wrong)
    assert records(wrong) == [
        "D.founder.sg",
        "S.founder.sg",
        "K.shows.Saltgrass",
        "K.parents",
    ]
    assert not is_possible(wrong, {"S.founder.sg"})
    assert is_possible(wrong, {"D.founder.sg"})
    assert is_possible(wrong, {"K.shows.Saltgrass"})
    assert is_possible(wrong, {"K.parents"})


def test_dropped_clutch_parents_free_its_young_and_its_tally() -> None:
    tally = [{"count": 2, "shows": {"Saltgrass": True}}]
    clutch = {"id": "C", "dam": "D", "sire": "S", "tally": tally}
    hatched = {"id": "K", "clutch": "C", "shows": {"Saltgrass": True}}
    wrong = case(dam(NORMAL), sire(VISUAL), hatched, clutches=[clutch])
    assert not is_possible(wrong)
    assert not is_possible(wrong, {"K.shows.Saltgrass"})
    assert not is_possible(wrong, {"C.tally[0]"})
    assert is_possible(wrong, {"K.shows.Saltgrass", "C.tally[0]"})
    assert is_possible(wrong, {"C.parents"})
