"""The engine against its brute-force twin in corners that random cases seldom reach."""

from __future__ import annotations

from typing import Any

import pytest

from tests.genetics.small_cases import (
    HET,
    LINES,
    NORMAL,
    RECOMBINING,
    VISUAL,
    case,
    dam,
    sire,
    young,
)
from tests.genetics.test_engine_twin import check_conflict, comparable, differences, solve
from tests.genetics.twin import twin
from tests.genetics.twin_genome import Case

LETHAL = [{"locus": "sg", "genotype": "m/m", "survival": 0}]
GOAL = {"dam": "D", "sire": "S", "eggs": [1, 3], "goal": {"shows": {"Saltgrass": True}}}
ONE = {**LINES, "same_locus": [{"loci": ["pa", "pb"], "prior": 1}]}
X_LOCUS = [{"id": "sg", "alleles": ["+", "m"], "chromosome": "X"}]
FREQUENT = {"sg": {"m": 0.5}}
SHOWN = [{"sg": ["m/m"]}]


def _clutch(*tally: dict[str, Any], **more: Any) -> dict[str, Any]:
    parents = {} if "candidates" in more else {"dam": "D", "sire": "S"}
    return {"id": "C", **parents, **more, "tally": list(tally)}


def _unrecorded_candidates(paternity: str) -> Case:
    rows = [
        {"dam": None, "sire": "S", "p": 0.5},
        {"dam": "D", "sire": None, "p": 0.25},
        {"p": 0.25},
    ]
    tally = {"count": 2, "shows": {"Saltgrass": True}}
    return case(
        dam(HET),
        sire(HET),
        {"id": "K", "clutch": "C", "shows": {"Saltgrass": True}},
        {"id": "L", "clutch": "C"},
        background=FREQUENT,
        clutches=[_clutch(tally, candidates=rows, paternity=paternity)],
        ask={"kinship": [["K", "L"], ["K", "D"]], "inbreeding": ["K"]},
    )


def _candidate_of_no_weight(paternity: str) -> Case:
    rows = [{"dam": "D", "sire": "S", "p": 1}, {"dam": "D", "sire": "T", "p": 0}]
    tally = {"count": 2, "shows": {"Saltgrass": True}}
    return case(
        dam(HET),
        sire(HET),
        {"id": "T"},
        {"id": "K", "clutch": "C"},
        clutches=[_clutch(tally, candidates=rows, paternity=paternity)],
        ask={"kinship": [["K", "T"]]},
    )


def _rows(*genotypes: dict[str, str]) -> list[dict[str, Any]]:
    return [{"p": f"1/{len(genotypes)}", "genotypes": row} for row in genotypes]


CORNERS: dict[str, Case] = {
    "question on a couple without living young": case(
        dam(VISUAL), sire(VISUAL), viability=LETHAL, ask={"offspring": [GOAL]}
    ),
    "question on a couple that may have no living young": case(
        dam(VISUAL),
        sire({"sg": {"m/m": 0.5, "+/m": 0.5}}),
        viability=LETHAL,
        ask={"offspring": [GOAL]},
    ),
    "hatchling of a couple without living young": case(
        dam(VISUAL), sire(VISUAL), young(), viability=LETHAL
    ),
    "tally line that says nothing": case(dam(HET), sire(HET), clutches=[_clutch({"count": 3})]),
    "tally line that says nothing of a couple without living young": case(
        dam(VISUAL), sire(VISUAL), viability=LETHAL, clutches=[_clutch({"count": 3})]
    ),
    "tally line of one sex alone": case(
        dam({"sg": {"+/m": 1}}),
        sire({"sg": {"+/Y": 1}}),
        loci=X_LOCUS,
        traits=[],
        viability=[{"locus": "sg", "genotype": "m/Y", "survival": 0.5}],
        clutches=[_clutch({"count": 3, "sex": "male"}, {"count": 2, "sex": "female"})],
    ),
    "the same couple twice among the candidates": case(
        dam(HET),
        sire(HET),
        {"id": "K", "clutch": "C"},
        clutches=[
            {"id": "C", "candidates": [{"dam": "D", "sire": "S", "p": 0.5} for _ in range(2)]}
        ],
        ask={"kinship": [["K", "K"], ["K", "S"]]},
    ),
    "candidate of no weight, one couple": _candidate_of_no_weight("one"),
    "candidate of no weight, a couple for each egg": _candidate_of_no_weight("each"),
    "unrecorded candidates, one couple": _unrecorded_candidates("one"),
    "unrecorded candidates, a couple for each egg": _unrecorded_candidates("each"),
    "clutch without any recorded parent": case(
        {"id": "K", "clutch": "C", "shows": {"Saltgrass": True}},
        {"id": "L", "clutch": "C"},
        background=FREQUENT,
        clutches=[{"id": "C"}],
        ask={"kinship": [["K", "L"]], "inbreeding": ["K"]},
    ),
    "arrangements in one statement, ordered and not": case(
        sire({"sg": {"+/m": 0.5, "+|m": 0.5}}), **RECOMBINING
    ),
    "statement on a founder of unknown sex, arrangements in part": case(
        {"id": "U", "founder": {"sg": {"+/m": 0.5, "+|m": 0.25, "+|+": 0.25}}}, **RECOMBINING
    ),
    "joint rows of a founder of unknown sex that fit one sex alone": case(
        {"id": "U", "founder_joint": _rows({}, {"sg": "m/m"})}, loci=X_LOCUS, traits=[]
    ),
    "survival of an unordered key in the heterogametic sex": case(
        dam(HET),
        sire({"sg": {"m|+": 1}}),
        young(),
        **RECOMBINING,
        viability=[{"locus": "sg", "genotype": "+/m", "survival": 0.5}],
    ),
    "founder product that leaves nothing of the only hypothesis": case(
        dam({"pa": {"p/p": 1}, "pb": {"q/q": 1}}), **ONE
    ),
    "joint rows of which one leaves nothing": case(
        {
            "id": "D",
            "sex": "female",
            "founder_joint": _rows({"pa": "p/p", "pb": "q/q"}, {"pa": "p/p"}),
        },
        **LINES,
    ),
    "background that leaves nothing of one hypothesis": case(
        dam(), **LINES, background={"pa": {"p": 1}, "pb": {"q": 1}}
    ),
    "background that leaves nothing of the only hypothesis": case(
        dam(), **ONE, background={"pa": {"p": 1}, "pb": {"q": 1}}
    ),
    "look hidden under one reading of three lines only": {
        **case(
            {
                "id": "A",
                "founder": {"pa": {"+/p": 1}, "pb": {"+/q": 1}, "sg": {"+/+": 0.5, "m/m": 0.5}},
                "shows": {"Saltgrass": False},
            }
        ),
        "loci": [
            {"id": "pa", "alleles": ["+", "p"]},
            {"id": "pb", "alleles": ["+", "q"]},
            {"id": "pc", "alleles": ["+", "r"]},
            {"id": "sg", "alleles": ["+", "m"]},
        ],
        "same_locus": [
            {"loci": pair, "prior": 0.5} for pair in (["pa", "pb"], ["pa", "pc"], ["pb", "pc"])
        ],
        "traits": [
            {"id": "Tide", "recessive_at": ["pa", "pb", "pc"], "hides": ["Saltgrass"]},
            {"id": "Saltgrass", "shown_by": [{"sg": ["m/m"]}]},
        ],
    },
    "undecided pair named twice": case(
        dam({"pa": {"+/p": 1}}), **{**LINES, "same_locus": LINES["same_locus"] * 2}
    ),
    "lines of one allele name and other wild names": case(
        dam({"pa": {"w/p": 1}, "pb": {"v/p": 1}}),
        sire({"pa": {"w/p": 1}}),
        young(shows={"Pale": True}),
        **{
            **LINES,
            "loci": [{"id": "pa", "alleles": ["w", "p"]}, {"id": "pb", "alleles": ["v", "p"]}],
        },
    ),
    "background without wild type": case(
        dam(shows={"Saltgrass": True}),
        sire(),
        young(),
        loci=[{"id": "sg", "alleles": ["+", "m", "c"]}],
        background={"sg": {"m": 0.3, "c": 0.7}},
    ),
    "laboratory test that excludes everything": case(dam(HET, likelihood={"sg": {}})),
    "three contradictions apart": case(
        dam(NORMAL, shows={"Saltgrass": True}),
        sire(NORMAL, shows={"Saltgrass": True}),
        young(shows={"Saltgrass": True}),
    ),
    "trait that hides itself and all": case(
        dam(VISUAL, shows={"Saltgrass": True}),
        traits=[{"id": "Saltgrass", "shown_by": SHOWN, "hides": ["*", "Saltgrass"]}],
    ),
    "traits that hide each other": case(
        dam(VISUAL, shows={"Saltgrass": False, "Quillwort": False}),
        traits=[
            {"id": "Saltgrass", "shown_by": SHOWN, "hides": ["*"]},
            {"id": "Quillwort", "shown_by": SHOWN, "hides": ["Saltgrass"]},
        ],
    ),
    "goal that names nothing": case(
        dam(HET),
        sire(HET),
        ask={"offspring": [{"dam": "D", "sire": "S", "goal": {}, "eggs": [1]}]},
    ),
    "eggs without a goal": case(
        dam(HET), sire(HET), ask={"offspring": [{"dam": "D", "sire": "S", "eggs": [1]}]}
    ),
    "young of full sibs": case(
        dam(HET),
        sire(HET),
        young("K", sex="female"),
        young("L"),
        {"id": "Z", "dam": "K", "sire": "L", "shows": {"Saltgrass": True}},
        {"id": "Y", "dam": "Z", "sire": "S"},
        ask={"kinship": [["Z", "Z"], ["K", "Y"]], "inbreeding": ["Y", "Z"]},
    ),
    "no traits, sex of the environment": {
        "case": 1,
        "sex_determination": "none",
        "loci": [{"id": "sg", "alleles": ["+", "m"]}],
        "animals": [{"id": "A"}, {"id": "B", "dam": "A", "sex": "male"}],
    },
    "loci of one allele": {
        "case": 1,
        "sex_determination": "ZW",
        "loci": [{"id": "sg", "alleles": ["+"]}, {"id": "qw", "alleles": ["+"], "chromosome": "Z"}],
        "animals": [{"id": "A"}, {"id": "B", "dam": "A"}],
    },
}


@pytest.mark.parametrize("name", CORNERS)
def test_engine_equals_twin_in_the_corner(name: str) -> None:
    corner = CORNERS[name]
    answer, expected = solve(corner), twin(corner)
    assert answer.get("error") == expected.get("error"), answer
    if "error" in answer:
        check_conflict(corner, answer["conflict"])
    else:
        assert differences(comparable(answer), comparable(expected)) == []
