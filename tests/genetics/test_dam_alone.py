"""Young of a dam alone: by hand, by simulation, and wherever the engine looks at parents."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random
from typing import Any

import numpy as np
import pytest

from genetics.casefile import answer_case, read_case, write_case
from genetics.copies import Count, Counted, count_copies
from genetics.crosses import cross_alone
from genetics.errors import ImpossibleEvidence, MalformedCase
from genetics.explain import contributions
from genetics.kinship import (
    Couple,
    Pedigree,
    Relationship,
    inbreeding,
    kinship,
    kinship_pairs,
    kinship_x,
)
from genetics.parents_alone import by_parents_alone
from genetics.population import (
    NO_SIRE,
    Animal,
    Clutch,
    Goal,
    Interval,
    Linkage,
    Locus,
    OffspringQuestion,
    Population,
    Sighting,
    Trait,
    Viability,
)
from genetics.population import Couple as Parents
from genetics.relatives import pedigree
from genetics.relevance import relevant
from genetics.solving import solve
from genetics.subproblems import Subproblem, answer_packet, answered, pack, unpack_answers
from tests.genetics.small_cases import HET, POSSIBLE_HET, case, dam, sire
from tests.genetics.twin import twin
from tests.genetics.twin_genome import Case

F = Fraction


def alone(name: str = "K", **more: Any) -> dict[str, Any]:
    """An animal out of D without a sire."""
    return {"id": name, "dam": "D", "sire": "none", **more}


def both(wanted: Case) -> dict[str, Any]:
    """The engine's answer, which the twin gives too."""
    found, expected = answer_case(wanted), twin(wanted)
    for part in ("posterior", "sex", "parentage", "joint", "kinship", "inbreeding"):
        assert _near(found[part], expected[part])
    assert found["log_evidence"] == pytest.approx(expected["log_evidence"], abs=1e-12)
    return found


def _near(found: Any, expected: Any) -> bool:
    if isinstance(expected, dict):
        return all(_near(found[key], expected[key]) for key in expected)
    if isinstance(expected, list):
        return all(_near(a, b) for a, b in zip(found, expected, strict=True))
    return bool(found == pytest.approx(expected, abs=1e-12))


# --- by hand --------------------------------------------------------------------------------------


def test_young_of_a_het_dam_are_visual_or_normal_never_het() -> None:
    answer = both(case(dam(HET), alone()))
    assert answer["posterior"]["K"]["sg"] == pytest.approx({"+/+": 0.5, "+/m": 0, "m/m": 0.5})
    assert answer["sex"] == {"K": 1}


def test_young_stay_het_with_the_chance_retained() -> None:
    answer = both(case(dam(HET), alone(retained="1/5")))
    assert answer["posterior"]["K"]["sg"] == pytest.approx({"+/+": 0.4, "+/m": 0.2, "m/m": 0.4})


def test_retained_by_locus_is_nothing_at_others() -> None:
    two = {"loci": [{"id": "sg", "alleles": ["+", "m"]}, {"id": "qw", "alleles": ["+", "q"]}]}
    founder = {"sg": {"+/m": 1}, "qw": {"+/q": 1}}
    answer = both(case(dam(founder), alone(retained={"qw": 1}), **two))
    assert answer["posterior"]["K"]["sg"]["+/m"] == 0
    assert answer["posterior"]["K"]["qw"]["+/q"] == pytest.approx(1)


def test_one_visual_young_alone_proves_its_dam() -> None:
    # She carries with chance 2/3 before; a visual young has half its chance of a carrier.
    answer = both(case(dam(POSSIBLE_HET), alone(shows={"Saltgrass": True})))
    assert answer["posterior"]["D"]["sg"] == pytest.approx({"+/+": 0, "+/m": 1, "m/m": 0})
    clean = both(case(dam(POSSIBLE_HET), alone(shows={"Saltgrass": False})))
    # (2/3 · 1/2) / (1/3 + 2/3 · 1/2) = 1/2: a clean young tells more than one of a mate would.
    assert clean["posterior"]["D"]["sg"]["+/m"] == pytest.approx(0.5)
    assert clean["posterior"]["K"]["sg"]["+/m"] == 0


SEX_LINKED = {
    "sex_determination": "ZW",
    "loci": [{"id": "sg", "alleles": ["+", "m"], "chromosome": "Z"}],
    "traits": [{"id": "Saltgrass", "shown_by": [{"sg": ["m/m", "m/W"]}]}],
}


def test_young_of_a_zw_dam_are_sons_with_two_copies_of_her_z() -> None:
    answer = both(case(dam({"sg": {"m/W": 1}}), alone(), **SEX_LINKED))
    assert answer["sex"] == {"K": 0}
    assert answer["posterior"]["K"]["sg"]["m/m"] == pytest.approx(1)


def test_a_daughter_of_a_zw_dam_alone_cannot_be() -> None:
    for parts in (SEX_LINKED, {"sex_determination": "ZW"}):
        answer = answer_case(case(dam(), alone(sex="female"), **parts))
        assert (answer["error"], answer["conflict"]) == ("impossible", ["K.parents"])


@pytest.mark.parametrize(("r", "retained", "het"), [(0.05, 0.3, 0.3), (0, 0.3, 0), (0.05, 0, 0)])
def test_locus_of_both_sex_chromosomes_follows_the_dams_z(
    r: float, retained: float, het: float
) -> None:
    """Without recombination it is one piece with the factor that is never retained."""
    parts = {
        "sex_determination": "ZW",
        "loci": [{"id": "sg", "alleles": ["+", "m"], "chromosome": "sex", "recombination": r}],
        "traits": [],
    }
    answer = both(case(dam({"sg": {"m|+": 1}}), alone(retained=retained), **parts))
    found = answer["posterior"]["K"]["sg"]
    expected = {"m/m": (1 - r) * (1 - het), "+/+": r * (1 - het), "+/m": het}
    assert {key: found[key] for key in expected} == pytest.approx(expected)


def test_sex_tells_whether_there_was_a_sire() -> None:
    """A son of a ZW dam is twice as likely without a sire, a daughter rules it out."""
    for sex, expected in (("male", 0.2 / (0.2 + 0.4)), ("female", 0.0), ("unknown", 0.2)):
        for parts in ({}, SEX_LINKED):
            clutch = {
                "id": "C",
                "candidates": [
                    {"dam": "D", "sire": "none", "p": 0.2},
                    {"dam": "D", "sire": "S", "p": 0.8},
                ],
            }
            wanted = case(
                {"id": "D"}, {"id": "S"}, {"id": "K", "clutch": "C", "sex": sex},
                **{"sex_determination": "ZW", "clutches": [clutch], **parts},
            )  # fmt: skip
            answer = both(wanted)
            assert answer["parentage"]["C"][0] == pytest.approx(expected)
            if sex == "unknown":
                assert answer["sex"]["K"] == pytest.approx(0.4)


def test_a_clutch_of_two_looks_may_have_had_no_sire() -> None:
    """Two visuals from a het dam: alone 1/4, from a clean mate never."""
    clutch = {
        "id": "C",
        "candidates": [
            {"dam": "D", "sire": "none", "p": 0.01},
            {"dam": "D", "sire": "S", "p": 0.99},
        ],
        "tally": [{"count": 2, "shows": {"Saltgrass": True}}],
    }
    answer = both(case(dam(HET), sire({"sg": {"+/+": 1}}), clutches=[clutch]))
    assert answer["parentage"] == {"C": [pytest.approx(1), 0]}


def test_lethal_homozygote_is_not_among_the_young() -> None:
    lethal = {"viability": [{"locus": "sg", "genotype": "m/m", "survival": 0}]}
    answer = both(case(dam(HET), alone(retained=0.5), **lethal))
    # 1/4 normal, 1/2 het, 1/4 dead.
    assert answer["posterior"]["K"]["sg"] == pytest.approx({"+/+": 1 / 3, "+/m": 2 / 3, "m/m": 0})


LINKED: dict[str, Any] = {
    "loci": [{"id": "a", "alleles": ["+", "a"]}, {"id": "b", "alleles": ["+", "b"]}],
    "traits": [],
}


def linked(r: float) -> dict[str, Any]:
    interval = {"female": r, "male": 0.5}
    return {**LINKED, "linkage": [{"loci": ["a", "b"], "recombination": [interval]}]}


def test_linked_loci_follow_the_dams_gamete() -> None:
    """Coupled or in repulsion half and half; young that are alike at both tell which."""
    founder = {"a": {"+/a": 1}, "b": {"+/b": 1}}
    ask = {"ask": {"joint": [{"animal": "K", "genotypes": {"a": "a/a", "b": "b/b"}}]}}
    shown = {"likelihood": {"a": {"a/a": 1}, "b": {"b/b": 1}}}
    answer = both(case(dam(founder), alone("J", **shown), alone(), **linked(0.1), **ask))
    # P(coupled | J) = 0.45 / 0.5; P(K a/a b/b) = 0.9 · 0.45 + 0.1 · 0.05.
    assert answer["joint"] == [pytest.approx(0.41)]


@pytest.mark.parametrize(("r", "expected"), [(0, 0.25), (0.1, 0.0625)])
def test_linked_loci_are_retained_as_one_piece_only_without_recombination(
    r: float, expected: float
) -> None:
    founder = {"a": {"+/a": 1}, "b": {"+/b": 1}}
    ask = {"ask": {"joint": [{"animal": "K", "genotypes": {"a": "+/a", "b": "+/b"}}]}}
    answer = both(case(dam(founder), alone(retained=0.25), **linked(r), **ask))
    assert answer["joint"] == [pytest.approx(expected)]


# --- refusals -------------------------------------------------------------------------------------


def malformed(wanted: Case) -> str:
    answer = answer_case(wanted)
    assert answer["error"] == "malformed"
    return str(answer["message"])


def test_no_animal_is_called_none() -> None:
    assert malformed(case({"id": "none"})) == (
        'animals[0].id: "none" says that there was no sire; expected another id'
    )
    message = 'animals[1].dam: no animal has the id "none"; accepted: "D", "K"'
    assert malformed(case(dam(), {"id": "K", "dam": "none"})) == message


def test_unknown_sire_and_no_sire_are_two_states() -> None:
    unknown = both(case(dam(HET), {"id": "K", "dam": "D"}))
    assert unknown["posterior"]["K"]["sg"] == pytest.approx({"+/+": 0.5, "+/m": 0.5, "m/m": 0})
    assert unknown["sex"] == {"K": 0.5}


def test_retained_is_for_dams_alone() -> None:
    assert malformed(
        case(dam(), sire(), {"id": "K", "dam": "D", "sire": "S", "retained": 0.1})
    ) == ('animals[2].retained: the sire is "S"; expected retained only with the sire "none"')
    assert malformed(case(dam(), alone(retained=2))) == (
        "animals[1].retained: 2 is not accepted; expected a number from 0 to 1"
    )
    assert malformed(case(dam(), alone(retained={"gg": 0.1}))) == (
        'animals[1].retained.gg: no locus has the id "gg"; the nearest is "sg"'
    )
    uneven = case(dam(), alone(retained={"a": 0.1}), **linked(0))
    assert malformed(uneven).startswith('animals[1].retained.a: "a" and "b" never recombine')
    clutch = {"id": "C", "candidates": [{"dam": "D"}], "retained": 0.1}
    assert "retained with the candidate" in malformed(case(dam(), clutches=[clutch]))


def test_a_young_without_sire_is_no_founder() -> None:
    message = malformed(case({"id": "K", "sire": "none", "founder": HET}))
    assert message.startswith('animals[0].founder: "K" has parents recorded')


def test_case_is_written_as_it_was_read() -> None:
    wanted = case(
        dam(), alone(retained={"sg": "1/3"}), alone("J"),
        clutches=[
            {"id": "C", "dam": "D", "sire": "none", "retained": 0.5},
            {"id": "B", "candidates": [{"dam": "D", "sire": "none", "p": 1, "retained": 0.25}]},
        ],
        ask={"offspring": [{"dam": "D", "sire": "none", "retained": "1/9"}]},
    )  # fmt: skip
    read = read_case(wanted)
    assert read.population.animals[1].retained == (("sg", F(1, 3)),)
    assert read.population.clutches[0].candidates[0].retained == 0.5
    assert read.ask.offspring[0].retained == F(1, 9)
    assert read_case(write_case(read)) == read


# --- crosses and questions ------------------------------------------------------------------------


def test_cross_of_a_dam_alone_is_exact() -> None:
    inheritance = Population(
        (Locus("sg", ("+", "m")), Locus("zz", ("+", "z"), "Z"), Locus("zy", ("+", "y"), "Z")), (),
        sex_determination="ZW", traits=(Trait("Saltgrass", recessive_at=("sg",)),),
    )  # fmt: skip
    found = cross_alone(inheritance, {"sg": "+/m", "zz": "z/W", "zy": "y/W"}, retained=F(1, 10))
    assert found.sexes() == {"male": 1}
    assert found.genotypes("sg", "zz", "zy") == {
        ("+/+", "z/z", "y/y"): F(9, 20), ("m/m", "z/z", "y/y"): F(9, 20),
        ("+/m", "z/z", "y/y"): F(1, 10),
    }  # fmt: skip
    assert found.phenotypes() == {(): F(11, 20), ("Saltgrass",): F(9, 20)}
    assert found.chance(Goal({"Saltgrass": True}, sex="female")) == 0


def test_offspring_of_a_dam_alone_average_over_what_she_may_be() -> None:
    question = {"dam": "D", "sire": "none", "eggs": [2], "goal": {"shows": {"Saltgrass": True}}}
    answer = both(case(dam(POSSIBLE_HET), ask={"offspring": [question]}))
    (found,) = answer["offspring"]
    assert found["goal"] == pytest.approx(1 / 3)
    assert found["at_least_one"] == {"2": pytest.approx(2 / 3 * 3 / 4)}


# --- kinship --------------------------------------------------------------------------------------


def test_kinship_with_the_dam_and_own_inbreeding() -> None:
    """½ (1 + F of the dam) with her; its own F is 1 − retained of an outbred dam."""
    sibs = [{"id": "J", "dam": "D", "sire": "S"}, {"id": "L", "dam": "D", "sire": "S"}]
    inbred = {"id": "M", "dam": "J", "sire": "L"}
    wanted = case(
        dam(), sire(), *sibs, inbred, alone(retained="1/4"),
        {"id": "N", "dam": "M", "sire": "none", "retained": "1/4"},
        ask={
            "kinship": [["K", "D"], ["N", "M"], ["K", "S"], ["K", "J"]],
            "inbreeding": ["K", "M", "N"],
        },
    )  # fmt: skip
    answer = both(wanted)
    assert answer["kinship"] == [0.5, 0.625, 0, 0.25]
    # The retained part is her own two alleles, which are alike by descent with chance 1/4.
    assert answer["inbreeding"] == [0.75, 0.25, 1 - 0.25 * 0.75]


def random_pedigree(random: Random, size: int) -> Pedigree:
    couples: list[list[Couple]] = []
    sex: list[int] = []
    litter: list[int] = []
    for i in range(size):
        dams = [j for j in range(len(sex)) if sex[j] == 0]
        sires = [j for j in range(len(sex)) if sex[j] == 1]
        row: list[Couple] = []
        for _ in range(random.randint(1, 2)):
            mother = random.choice([-1, *dams])
            if random.random() < 0.4:
                row.append(Couple(mother, mother, 1, random.choice((0.0, 0.25, 1.0))))
            else:
                row.append(Couple(mother, random.choice([-1, *sires]), 1))
        row = list(dict.fromkeys(row))
        row = [one._replace(p=1 / len(row)) for one in row]
        together = random.random() < 0.5
        for _ in range(2):
            couples.append(row)
            litter.append(i if together else -1)
            sex.append(random.randint(0, 1))
    return Pedigree.from_couples(couples, sex=sex, litter=litter)


@pytest.mark.parametrize("seed", range(40))
def test_every_way_to_kinship_agrees_on_dams_alone(seed: int) -> None:
    family = random_pedigree(Random(seed), 6)
    n = len(family)
    pairs = [(i, j) for i in range(n) for j in range(n)]
    found = kinship_pairs(family, pairs).reshape(n, n)
    relationship = Relationship(family)
    np.testing.assert_allclose(relationship.kinship_among(range(n)), found, atol=1e-12)
    np.testing.assert_allclose(inbreeding(family), 2 * found.diagonal() - 1, atol=1e-12)


def test_kinship_at_the_z_of_a_dam_alone() -> None:
    couples = [[], [Couple(0, 0, 1, 0.0)], [Couple(0, 0, 1, 0.5)]]
    family = Pedigree.from_couples(couples, sex=[0, 1, 2])
    assert kinship_x(family, [(0, 1), (1, 1), (1, 2)], "ZW").tolist() == [1, 1, 1]
    daughters = Pedigree.from_couples(couples, sex=[0, 0, 2])
    assert kinship_x(daughters, [(0, 1), (1, 1), (2, 2)], "XY").tolist() == [0.5, 1, 0.75]
    doubtful = Pedigree.from_couples([[], [], [Couple(0, 0, 0.5, 0.0), Couple(0, 1, 0.5)]])
    with pytest.raises(ValueError, match="individual 2 of unknown sex may have a dam alone"):
        kinship_x(doubtful, [(0, 2)])


def test_couple_alone_stands_in_both_places() -> None:
    with pytest.raises(ValueError, match="is no dam alone"):
        Pedigree.from_couples([[], [], [(0, 1, 1.0, 0.5)]])
    assert kinship(Pedigree.from_couples([[(-1, -1, 1.0, 0.25)]]), 0, 0) == 0.875


def test_pedigree_of_retained_by_locus_takes_none() -> None:
    population = read_case(case(dam(), alone(retained={"sg": 0.5}))).population
    assert inbreeding(pedigree(population)).tolist() == [0, 1]


# --- wherever parents are looked at ---------------------------------------------------------------


def colony(seed: int) -> Population:
    """Three generations in which some dams have young alone."""
    random = Random(seed)
    plain = {"Saltgrass": Sighting(False)}
    animals = [
        Animal("D0", "female", founder={"sg": {"+/+": F(1, 3), "+/m": F(2, 3)}}),
        Animal("S0", "male", founder={"sg": {"+/m": 1}}),
        Animal("D1", "female", founder={"sg": {"+/m": F(1, 2), "+/+": F(1, 2)}}),
    ]
    for i in range(8):
        dams = [one.id for one in animals if one.sex == "female"]
        father = NO_SIRE if random.random() < 0.5 else "S0"
        own = 0.2 if father == NO_SIRE else 0
        animals.append(
            Animal(f"K{i}", "female", random.choice(dams), father, shows=plain, retained=own)
        )
    return Population(
        (Locus("sg", ("+", "m")),), tuple(animals), sex_determination="XY",
        traits=(Trait("Saltgrass", recessive_at=("sg",)),),
    )  # fmt: skip


def test_young_added_to_a_solved_book_equal_a_fresh_solve() -> None:
    for seed in range(12):
        whole = colony(seed)
        solved = solve(replace(whole, animals=whole.animals[:6]))
        for animal in whole.animals[6:]:
            solved = solved.changed(animals=[animal])
        fresh = solve(whole)
        np.testing.assert_allclose(
            solved.posterior_table("sg")[2], fresh.posterior_table("sg")[2], atol=1e-12
        )
        assert solved.log_evidence == pytest.approx(fresh.log_evidence, abs=1e-9)


def test_sampling_meets_the_exact_figures_of_dams_alone() -> None:
    whole = colony(3)
    exact, sampled = solve(whole), solve(whole, narrow=30)
    assert not sampled.exact
    for animal in whole.animals:
        error = sampled.error(animal.id, "sg")
        found, wanted = sampled.posterior(animal.id, "sg"), exact.posterior(animal.id, "sg")
        assert all(abs(found[key] - wanted[key]) <= error + 1e-12 for key in wanted)


def test_relevant_part_keeps_what_the_sexes_tell_of_a_sire() -> None:
    clutch = {
        "id": "C",
        "candidates": [{"dam": "D", "sire": "none", "p": 0.5}, {"dam": "D", "sire": "S", "p": 0.5}],
    }
    population = read_case(
        case(
            dam(POSSIBLE_HET), sire(HET), {"id": "J", "clutch": "C", "sex": "male"},
            {"id": "K", "clutch": "C", "shows": {"Saltgrass": False}}, clutches=[clutch],
        )
    ).population  # fmt: skip
    part = relevant(population, "K", "sg")
    whole = solve(population)
    assert whole.parentage("C") == pytest.approx([0, 1])
    assert solve(part).posterior("K", "sg") == pytest.approx(whole.posterior("K", "sg"))


def test_contributions_copies_and_workers_know_dams_alone() -> None:
    whole = colony(5)
    rows = contributions(whole, "D0", "sg", ("+/m", "m/m"))
    assert {str(row.record) for row in rows} >= {"D0.founder.sg"}
    counted = (Counted(tuple(a.id for a in whole.animals), (Count("M", "sg", frozenset("m")),)),)
    solved = solve(whole)
    copies = count_copies(solved, counted)
    assert {row.animal for row in copies.rows()} <= {a.id for a in whole.animals}
    by_parents = by_parents_alone(solved, whole, [a.id for a in whole.animals], counted)
    assert by_parents is not None
    one = Subproblem(whole, counted)
    (answer,) = unpack_answers(answer_packet(pack([one])))
    here = answered(one)
    assert answer is not None
    assert here is not None
    assert np.array_equal(answer.copies.one, here.copies.one)


def test_the_parents_alone_give_a_young_without_sire_no_single_copy() -> None:
    population = Population(
        (Locus("sg", ("+", "m")),),
        (
            Animal("D", "female", founder={"sg": {"+/m": 1}}),
            Animal("K", clutch="C"),
        ),
        (Clutch("C", (Parents("D", NO_SIRE),)),),
        sex_determination="XY",
    )
    counted = (Counted(("K",), (Count("M", "sg", frozenset("m")),)),)
    found = by_parents_alone(solve(population), population, ["K"], counted)
    assert found is not None
    (row,) = found.copies.rows()
    assert (row.two, row.one, row.none) == pytest.approx((0.5, 0, 0.5))


def test_impossible_young_of_a_dam_alone_name_their_parentage() -> None:
    with pytest.raises(ImpossibleEvidence):
        solve(read_case(case(dam({"sg": {"+/+": 1}}), alone(shows={"Saltgrass": True}))).population)


# --- known truth ----------------------------------------------------------------------------------


def test_simulated_broods_bear_out_the_posterior() -> None:
    """Dams drawn from their papers and their young meiosis by meiosis; looks as said kept.

    Chromatids: each locus of the map is followed by itself, and the young's two strands are
    written down, so that nothing here knows genotypes or states.  3,000 broods in 12 thousand or
    so; four standard errors.
    """
    random = Random(20)
    r, retained, kept, joint, carrying = 0.2, 0.3, 0, 0, 0
    while kept < 3000:
        strands = [("+", "+"), ("+", "+")]
        if random.random() < 2 / 3:
            strands = (
                [("a", "+"), ("+", "b")] if random.random() < 0.5 else [("a", "b"), ("+", "+")]
            )
        brood = [_egg(random, strands, r, retained) for _ in range(2)]
        if any(one[0] == ("a", "a") for one in brood):
            continue
        kept += 1
        carrying += "a" in strands[0]
        joint += brood[0][0] == ("+", "+") and brood[0][1] == ("b", "b")
    rows = [
        {"p": "1/3", "genotypes": {"a": "+/+", "b": "+/+"}},
        {"p": "2/3", "genotypes": {"a": "+/a", "b": "+/b"}},
    ]
    wanted = case(
        {"id": "D", "sex": "female", "founder_joint": rows},
        alone(retained=retained, shows={"Ashen": False}),
        alone("J", retained=retained, shows={"Ashen": False}),
        **linked(r)
        | {
            "traits": [{"id": "Ashen", "recessive_at": ["a"]}],
            "ask": {"joint": [{"animal": "K", "genotypes": {"a": "+/+", "b": "b/b"}}]},
        },
    )
    answer = both(wanted)
    for count, p in (
        (carrying, answer["posterior"]["D"]["a"]["+/a"]),
        (joint, answer["joint"][0]),
    ):
        assert abs(count / kept - p) < 4 * (p * (1 - p) / kept) ** 0.5


def _egg(
    random: Random, strands: list[tuple[str, str]], r: float, retained: float
) -> list[tuple[str, str]]:
    """The two alleles of an egg at each of two loci, in alphabetical order."""
    strand, found = random.randint(0, 1), []
    for locus in range(2):
        if locus and random.random() < r:
            strand = 1 - strand
        beside = 1 - strand if random.random() < retained else strand
        first, second = sorted((strands[strand][locus], strands[beside][locus]))
        found.append((first, second))
    return found


def test_records_that_contradict_the_contract_are_refused_as_records_too() -> None:
    with pytest.raises(MalformedCase, match="says that there was no sire"):
        Population(loci=(), animals=(Animal("none"),))
    two = Population(
        (Locus("a", ("+", "a")), Locus("b", ("+", "b"))), (),
        linkage=(Linkage(("a", "b"), (Interval(0, 0.1),)),),
        viability=(Viability("a", "a/a", 0),),
    )  # fmt: skip
    found = cross_alone(two, {"a": "+/a", "b": "+/b"}, retained=F(1, 2))
    assert sum(found.genotypes().values()) == 1
    question = OffspringQuestion("D", NO_SIRE)
    assert question.retained == 0
