"""What is too large is told before any table of it is made: little memory, a plain answer."""

from __future__ import annotations

import json
import tracemalloc
from pathlib import Path
from typing import Any

import pytest

from genetics import couple_query, read_case, solve
from genetics.__main__ import main
from genetics.casefile import answer_case
from genetics.crosses import cross
from genetics.errors import BeyondExact
from genetics.population import Goal, Interval, Locus, Population, Trait
from genetics.spaces import autosomal_space, count_states, merged_space, sex_space
from tests.genetics.twin import twin
from tests.genetics.twin_genome import Case

MUCH = 50_000_000
"""Bytes; the tables that are not made have billions."""


def names(n: int) -> list[str]:
    return [f"l{i}" for i in range(n)]


def many_loci(n: int, *, shows: bool = False, ask: bool = False, linked: bool = False) -> Case:
    """A look that needs a copy at each of so many loci, a couple and a young."""
    every = [{"id": name, "alleles": ["+", "m"]} for name in names(n)]
    half = {name: {"+/+": 0.5, "+/m": 0.5} for name in names(n)}
    young: dict[str, Any] = {"id": "K", "dam": "D", "sire": "S"}
    found: Case = {
        "case": 1,
        "sex_determination": "XY",
        "loci": every,
        "traits": [{"id": "All", "shown_by": [{name: ["+/m", "m/m"] for name in names(n)}]}],
        "animals": [
            {"id": "D", "sex": "female", "founder": {name: {"+/m": 1} for name in names(n)}},
            {"id": "S", "sex": "male", "founder": half},
            young | ({"shows": {"All": False}} if shows else {}),
        ],
    }
    if ask:
        goal = {"shows": {"All": True}}
        found["ask"] = {"offspring": [{"dam": "D", "sire": "S", "goal": goal}]}
    if linked:
        rate = {"female": 0.1, "male": 0.1}
        found["linkage"] = [{"loci": names(n), "recombination": [rate] * (n - 1)}]
    return found


def many_alleles(n: int, **locus: Any) -> Case:
    """A young of unknown founders at a locus of so many alleles."""
    alleles = ["+", *(f"a{i}" for i in range(1, n))]
    return {
        "case": 1,
        "sex_determination": "XY",
        "loci": [{"id": "sg", "alleles": alleles, **locus}],
        "background": {"sg": dict.fromkeys(alleles[1:], 0.01)},
        "animals": [{"id": "D", "sex": "female"}, {"id": "K", "dam": "D"}],
    }


@pytest.mark.parametrize(
    ("wanted", "message"),
    [
        (
            many_alleles(60),
            '"sg": 1830 genotypes to be solved together, more than the limit of 560',
        ),
        (
            many_alleles(40, chromosome="sex", recombination=0.1),
            '"sg": 2420 genotypes to be solved together, more than the limit of 560',
        ),
        (
            many_loci(8, linked=True),
            ", ".join(f'"l{i}"' for i in range(8))
            + ": 32896 genotypes to be solved together, more than the limit of 560",
        ),
        (
            many_loci(30, shows=True),
            "All: its look hangs on 30 loci or groups of them, with more genotypes together than "
            "the limit of 1.68e+07",
        ),
        (
            many_loci(30, ask=True),
            "exact inference needs about 1.07e+09 table cells, more than the limit of 2e+05",
        ),
    ],
    ids=["alleles", "sex-locus", "linked", "look", "asked"],
)
def test_what_is_too_large_is_beyond_before_a_table_is_made(wanted: Case, message: str) -> None:
    answer_case(many_loci(1, ask=True))  # what is imported and compiled is not counted
    tracemalloc.start()
    try:
        answer = answer_case(wanted)
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert answer == {"error": "beyond", "message": message}
    assert most < MUCH


def test_the_command_line_fails_with_the_plain_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "large.json"
    file.write_text(json.dumps(many_alleles(60)), encoding="utf-8")
    assert main(["solve", str(file)]) == 1
    printed = capsys.readouterr()
    assert json.loads(printed.out)["error"] == "beyond"
    assert "Traceback" not in printed.err


def test_a_look_of_several_loci_is_answered_as_the_twin_does() -> None:
    wanted = many_loci(4, ask=True)
    assert answer_case(wanted)["offspring"][0]["goal"] == pytest.approx(
        twin(wanted)["offspring"][0]["goal"]
    )
    # 3/4 of the young of two hets, 1/2 of those of a clean mate.
    asked = answer_case(many_loci(12, ask=True))["offspring"][0]
    assert asked["goal"] == pytest.approx((0.75 / 2 + 0.5 / 2) ** 12)


def test_a_cross_at_thirty_loci_is_exact() -> None:
    loci = tuple(Locus(name, ("+", "m")) for name in names(30))
    every: dict[str, tuple[str, ...]] = dict.fromkeys(names(30), ("+/m", "m/m"))
    inheritance = Population(loci, (), traits=(Trait("All", (every,)),))
    het = dict.fromkeys(names(30), "+/m")
    found = cross(inheritance, het, het)
    assert found.chance(Goal({"All": True})) == pytest.approx(0.75**30)
    with pytest.raises(BeyondExact):
        found.genotypes()
    with pytest.raises(BeyondExact, match="524800 genotypes to be solved together"):
        cross(*_ten_linked())


def _ten_linked() -> tuple[Population, dict[str, str], dict[str, str]]:
    from genetics.casefile import read_case

    population = read_case(many_loci(10, linked=True)).population
    return population, {}, {}


def test_counted_states_are_those_of_the_spaces() -> None:
    one, two = Locus("a", ("+", "a", "b")), Locus("b", ("+", "b"))
    single, both = Locus("x", ("+", "x"), "X"), Locus("s", ("+", "s", "t"), "sex", 0.1)
    assert (
        count_states([one, two], merged=False)
        == autosomal_space("XY", (one, two), (Interval(0.1, 0.1),), {}).size
    )
    assert (
        count_states([two, Locus("c", ("+", "c"))], merged=True)
        == merged_space("XY", (two, Locus("c", ("+", "c")))).size
    )
    assert count_states([single, both], merged=False) == sex_space("XY", (single, both), {}).size


def test_many_questions_do_not_make_a_sampled_answer() -> None:
    # All couples of twenty young of ten founders at once tie more together than fits.
    from random import Random

    random = Random(3)
    said = {"sg": {"+/+": "1/3", "+/har": "2/3"}}
    names = [f"F{n}" for n in range(24)], [f"M{n}" for n in range(24)]
    case: dict[str, Any] = {
        "loci": [{"id": "sg", "alleles": ["+", "har"]}],
        "traits": [{"id": "Saltgrass", "shown_by": [{"sg": ["har/har"]}]}],
        "animals": [
            *({"id": f"G{n}", "sex": "female", "founder": said} for n in range(8)),
            *({"id": f"H{n}", "sex": "male", "founder": said} for n in range(8)),
        ],
    }
    for sex, young in zip(("female", "male"), names, strict=True):
        for name in young:
            parents = {"dam": f"G{random.randrange(8)}", "sire": f"H{random.randrange(8)}"}
            case["animals"].append({"id": name, "sex": sex, **parents})
    goal = {"shows": {"Saltgrass": True}}
    pairs = [
        {"dam": dam, "sire": sire, "goal": goal} for dam in names[0][:8] for sire in names[1][:8]
    ]
    few = answer_case(case | {"ask": {"offspring": pairs[:1]}}, limit=2.0**12)
    many = answer_case(case | {"ask": {"offspring": pairs}}, limit=2.0**12)
    assert few.get("exact") is None
    assert many.get("exact") is None
    assert many["offspring"][0] == few["offspring"][0]
    for animal, found in few["posterior"].items():
        assert many["posterior"][animal]["sg"] == pytest.approx(found["sg"], abs=1e-12)
    # Asked all at once they would have been sampled.
    read = read_case(case | {"ask": {"offspring": pairs}})
    queries = [couple_query(read.population, one) for one in read.ask.offspring]
    assert not solve(read.population, limit=2.0**12, queries=queries).exact
