"""The Python API of a solved population."""

from __future__ import annotations

import subprocess
import sys

import pytest

import genetics
from genetics.errors import ImpossibleEvidence, MalformedCase
from genetics.population import (
    Animal,
    Case,
    Clutch,
    Couple,
    JointQuestion,
    Locus,
    Population,
    Questions,
    SameLocus,
    Sighting,
    TallyLine,
    Trait,
)
from genetics.solving import hypotheses, solve

LOOK = Trait("Saltgrass", shown_by=({"sg": ("har/har",)},))


def test_possible_het_after_clean_clutch() -> None:
    """Two thirds, eight clean young of a carrier mate: 0.16682 (derived from Mendel's law)."""
    population = Population(
        loci=(Locus("sg", ("+", "har")),),
        traits=(LOOK,),
        animals=(
            Animal("M1", sex="male", founder={"sg": {"+/+": 1 / 3, "+/har": 2 / 3}}),
            Animal("F1", sex="female", founder={"sg": {"+/har": 1}}),
        ),
        clutches=(
            Clutch(
                "C1",
                (Couple("F1", "M1"),),
                tally=(TallyLine(8, shows={"Saltgrass": Sighting(False)}),),
            ),
        ),
    )
    weight = 2 / 3 * 0.75**8
    posterior = solve(population).posterior("M1", "sg")
    assert posterior["+/har"] == pytest.approx(weight / (weight + 1 / 3), abs=1e-12)
    assert posterior["har/har"] == 0.0


def test_impossible_evidence_is_an_error_of_its_own() -> None:
    shown = Animal("K1", dam="F1", shows={"Saltgrass": Sighting(True)})
    population = Population(
        loci=(Locus("sg", ("+", "har")),), traits=(LOOK,), animals=(Animal("F1"), shown)
    )
    with pytest.raises(ImpossibleEvidence, match="cannot all be true"):
        solve(population)


def test_three_undecided_lines_have_five_readings() -> None:
    loci = tuple(Locus(name, ("+", name)) for name in "abc")
    pairs = (("a", "b"), ("a", "c"), ("b", "c"))
    population = Population(
        loci=loci, animals=(), same_locus=tuple(SameLocus(pair, 0.5) for pair in pairs)
    )
    readings = hypotheses(population)
    assert sorted(classes for _, classes in readings) == [
        (),
        (("a", "b"),),
        (("a", "b", "c"),),
        (("a", "c"),),
        (("b", "c"),),
    ]
    assert [prior for prior, _ in readings] == [pytest.approx(0.2)] * 5


def test_case_checks_its_questions() -> None:
    population = Population(loci=(Locus("sg", ("+", "har")),), animals=(Animal("K1"),))
    with pytest.raises(MalformedCase, match="nobody"):
        Case(population, Questions(joint=(JointQuestion("nobody", {"sg": ("+/+",)}),)))


def test_package_offers_its_names_without_loading_them() -> None:
    program = "import sys, genetics; print('numpy' in sys.modules, genetics.Animal('K').id)"
    ran = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert ran.stdout == "False K\n"
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        getattr(genetics, "nothing")  # noqa: B009  # a checker of types refuses the plain form
