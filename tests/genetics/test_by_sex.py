"""What sons and daughters of a couple look like, against every genotype listed."""

from itertools import product
from typing import Any

import pytest

from genetics.casefile import read_case
from genetics.couple import couple_kinds, couple_query, sexed_kinds
from genetics.population import OffspringQuestion
from genetics.solving import solve
from tests.genetics.twin import twin

COMBINED = [
    dict(zip(("Tide", "Reed"), there, strict=True)) for there in product((True, False), repeat=2)
]


def case(system: str, first: dict[str, Any], second: dict[str, Any], **more: Any) -> dict[str, Any]:
    """A dam and a sire that may carry at two loci; two copies at one show, one at the other."""
    single = {"X": "Y", "Z": "W"}
    hetero = {"XY": "male", "ZW": "female"}[system]

    def maybe(locus: dict[str, Any], allele: str, sex: str) -> dict[str, float]:
        mark = single.get(locus.get("chromosome", "autosome"))
        if mark and sex == hetero:
            return {f"+/{mark}": 0.4, f"{allele}/{mark}": 0.6}
        return {"+/+": 0.3, f"+/{allele}": 0.5, f"{allele}/{allele}": 0.2}

    def keys(locus: dict[str, Any], allele: str, *, single_shows: bool) -> list[str]:
        seat = locus.get("chromosome", "autosome")
        found = [f"{allele}/{allele}", *([f"+/{allele}"] if single_shows else [])]
        if seat in single:
            found.append(f"{allele}/{single[seat]}")
        if seat == "sex":
            found.append(f"{allele}|{allele}")
            found += [f"+|{allele}", f"{allele}|+"] if single_shows else []
        return found

    return {
        "case": 1,
        "sex_determination": system,
        "loci": [
            {"id": "a", "alleles": ["+", "x"], **first},
            {"id": "b", "alleles": ["+", "y"], **second},
        ],
        "traits": [
            {"id": "Tide", "shown_by": [{"a": keys(first, "x", single_shows=False)}]},
            {"id": "Reed", "shown_by": [{"b": keys(second, "y", single_shows=True)}]},
        ],
        "animals": [
            {
                "id": name,
                "sex": sex,
                "founder": {"a": maybe(first, "x", sex), "b": maybe(second, "y", sex)},
            }
            for name, sex in (("dam", "female"), ("sire", "male"))
        ],
        **more,
    }


def both(rate: float) -> dict[str, Any]:
    return {"chromosome": "sex", "recombination": rate}


CASES = {
    "X alone": case("XY", {"chromosome": "X"}, {}),
    "Z alone": case("ZW", {"chromosome": "Z"}, {}),
    "X and Y with crossovers": case("XY", both(0.02), {}),
    "Z and W with crossovers": case("ZW", {}, both(0.1)),
    "X alone beside X and Y": case("XY", {"chromosome": "X"}, both(0.05)),
    "Z alone beside Z and W": case("ZW", {"chromosome": "Z"}, both(0.25)),
    "sons lost": case(
        "XY", {"chromosome": "X"}, {},
        viability=[{"locus": "a", "genotype": "x/Y", "survival": 0.3}],
    ),
    "daughters lost": case(
        "ZW", both(0.2), {},
        viability=[{"locus": "a", "genotype": "x|x", "survival": 0}],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_sons_and_daughters_look_as_if_every_genotype_were_listed(name: str) -> None:
    told = CASES[name]
    goals: list[tuple[str, dict[str, bool]]] = list(product(("female", "male"), COMBINED))
    asked = [
        {"dam": "dam", "sire": "sire", "goal": {"sex": sex, "shows": shows}} for sex, shows in goals
    ]
    expected = [one["goal"] for one in twin(told | {"ask": {"offspring": asked}})["offspring"]]
    population = read_case(told).population
    question = OffspringQuestion("dam", "sire")
    solved = solve(population, queries=[couple_query(population, question)])
    (world,) = solved.worlds
    kinds = sexed_kinds(solved, world, question)
    found = [
        sum(
            weight * p
            for weight, looks, _ in kinds
            for (own, look), p in looks.items()
            if own == sex and set(look) == {trait for trait, seen in shows.items() if seen}
        )
        for sex, shows in goals
    ]
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-12)
    assert sum(found) == pytest.approx(1)
    # Their sum over both sexes is what is told of all.
    for (_, looks, _), (_, sexed, _) in zip(
        couple_kinds(solved, world, question), kinds, strict=True
    ):
        for look, p in looks.items():
            parts = sum(q for (_, own), q in sexed.items() if own == look)
            assert parts == pytest.approx(p)
