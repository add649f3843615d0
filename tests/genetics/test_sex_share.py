"""Where chromosomes do not decide the sex, nothing leans on even sexes."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from genetics.casefile import answer_case, read_case, write_case
from genetics.crosses import cross, cross_alone
from genetics.population import Goal, Locus, Population
from tests.genetics.small_cases import HET, case, dam, sire, young
from tests.genetics.test_engine_twin import comparable, differences
from tests.genetics.twin import twin
from tests.genetics.twin_genome import Case

WARM = {"sex_determination": "none", "females": "1/4"}


def goal(sire_id: str) -> dict[str, object]:
    return {
        "dam": "D",
        "sire": sire_id,
        "eggs": [2],
        "goal": {"shows": {"Saltgrass": True}, "sex": "female"},
    }


def warm(**more: object) -> Case:
    return case(
        dam(HET), sire(HET), young(), young("J", sex="male"),
        {"id": "L", "dam": "D", "sire": "none"}, **WARM, **more,
    )  # fmt: skip


def test_share_of_females_is_the_species_own() -> None:
    wanted = warm(ask={"offspring": [goal("S"), goal("none")]})
    answer = answer_case(wanted)
    assert differences(comparable(answer), comparable(twin(wanted))) == []
    assert answer["sex"] == {"K": 0.25, "L": 0.25}
    assert answer["log_evidence"] == pytest.approx(math.log(0.75))
    assert [row["goal"] for row in answer["offspring"]] == pytest.approx([1 / 16, 1 / 8])


def test_a_sex_that_none_has_is_impossible() -> None:
    answer = answer_case(warm() | {"females": 1})
    assert (answer["error"], answer["conflict"]) == ("impossible", ["J.parents"])


def test_cross_counts_the_share() -> None:
    inheritance = Population((Locus("sg", ("+", "m")),), (), females=Fraction(1, 4))
    found = cross(inheritance, {"sg": "+/m"}, {"sg": "+/m"})
    assert found.sexes() == {"female": Fraction(1, 4), "male": Fraction(3, 4)}
    both = Goal(genotypes={"sg": ("m/m",)}, sex="male")
    assert found.chance(both) == Fraction(3, 16)
    assert cross_alone(inheritance, {"sg": "+/m"}).chance(both) == Fraction(3, 8)


def test_share_is_refused_where_chromosomes_decide() -> None:
    answer = answer_case(case(dam(), females="1/4"))
    assert answer["message"] == (
        'females: 1/4 is not accepted with sex_determination "XY"; expected 1/2, or "none"'
    )
    assert answer_case(warm() | {"females": 2})["place"] == "females"
    assert answer_case(warm() | {"females": "many"})["place"] == "females"


def test_case_is_written_as_it_was_read() -> None:
    for share in ("1/4", 0, 0.3):
        read = read_case(warm() | {"females": share})
        assert read_case(write_case(read)) == read
