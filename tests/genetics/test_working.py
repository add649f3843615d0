"""Workings against the engine, published figures, and their own equations as displayed."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from genetics.errors import ImpossibleEvidence, MalformedCase
from genetics.population import (
    Animal,
    Clutch,
    Couple,
    FounderRow,
    Locus,
    Number,
    Population,
    Sex,
    Sighting,
    TallyLine,
    Trait,
)
from genetics.solving import solve
from genetics.working import (
    MATHML,
    Parent,
    Working,
    carrying_child,
    clean_offspring,
    clean_offspring_of_open_line,
    clean_test,
    exact,
    founder_papers,
    normal_child,
    normal_linked_child,
    normal_stranger,
    parents_cross,
    positive_test,
    shown_by_either_place,
    shown_by_now,
    single_copy_offspring,
    single_linked_child,
    two_copies_shown,
    unseen_look,
)
from tests.genetics.published import published

NEAR = 1e-12
HALF = Fraction(1, 2)
TWO_THIRDS = Fraction(2, 3)
ROOT = Path(__file__).parents[2]
CLEAN = {"Saltgrass": Sighting(False)}
PARENTS = [
    (Parent(1), Parent(1)),
    (Parent(TWO_THIRDS), Parent(HALF, Fraction(1, 4))),
    (Parent(0), Parent(Fraction(3, 7))),
    (Parent(0, 1), Parent(Fraction(1, 5))),
]


def founder(name: str, sex: Sex, known: Parent, **more: Any) -> Animal:
    """A founder stated to be as a parent of a working is."""
    assert not isinstance(known.carrier, Working) and not isinstance(known.shows, Working)
    c, s = exact(known.carrier), exact(known.shows)
    stated = {"+/+": 1 - c - s, "+/har": c, "har/har": s}
    return Animal(name, sex, founder={"sg": stated}, **more)


def chance(
    *animals: Animal,
    of: str,
    key: str = "+/har",
    chromosome: Any = "autosome",
    f: Number = 0,
    tally: TallyLine | None = None,
) -> float:
    """The engine's posterior of one genotype; a tally is of F1 and M1."""
    clutches = () if tally is None else (Clutch("C1", (Couple("F1", "M1"),), tally=(tally,)),)
    keys = ("har/har", "har/Y") if chromosome == "X" else ("har/har",)
    population = Population(
        loci=(Locus("sg", ("+", "har"), chromosome),),
        animals=animals,
        clutches=clutches,
        traits=(Trait("Saltgrass", shown_by=({"sg": keys},)),),
        sex_determination="XY",
        background={"sg": {"har": f}},
    )
    return solve(population).posterior(of, "sg")[key]


# ---- the engine ------------------------------------------------------------------------------


@pytest.mark.parametrize("parents", PARENTS)
@pytest.mark.parametrize("copies", [0, 1, 2])
def test_parents_cross_equals_the_engine(parents: tuple[Parent, Parent], copies: int) -> None:
    dam, sire = parents
    engine = chance(
        founder("F1", "female", dam),
        founder("M1", "male", sire),
        Animal("K1", dam="F1", sire="M1"),
        of="K1",
        key=("+/+", "+/har", "har/har")[copies],
    )
    assert float(parents_cross(dam, sire, copies=copies).result) == pytest.approx(engine, abs=NEAR)


@pytest.mark.parametrize("parents", PARENTS)
def test_normal_child_equals_the_engine(parents: tuple[Parent, Parent]) -> None:
    dam, sire = parents
    engine = chance(
        founder("F1", "female", dam),
        founder("M1", "male", sire),
        Animal("K1", dam="F1", sire="M1", shows=CLEAN),
        of="K1",
    )
    assert float(normal_child(dam, sire).result) == pytest.approx(engine, abs=NEAR)


@pytest.mark.parametrize("parents", PARENTS)
def test_carrying_child_equals_the_engine(parents: tuple[Parent, Parent]) -> None:
    dam, sire = parents
    none = chance(
        founder("F1", "female", dam),
        founder("M1", "male", sire),
        Animal("K1", dam="F1", sire="M1"),
        of="K1",
        key="+/+",
    )
    assert float(carrying_child(dam, sire).result) == pytest.approx(1 - none, abs=NEAR)


@pytest.mark.parametrize("parents", PARENTS)
def test_two_copies_of_a_dominant_equal_the_engine(parents: tuple[Parent, Parent]) -> None:
    dam, sire = parents
    population = Population(
        loci=(Locus("sg", ("+", "har")),),
        animals=(
            founder("F1", "female", dam),
            founder("M1", "male", sire),
            Animal("K1", dam="F1", sire="M1", shows={"Saltgrass": Sighting(True)}),
        ),
        traits=(Trait("Saltgrass", shown_by=({"sg": ("+/har", "har/har")},)),),
    )
    engine = solve(population).posterior("K1", "sg").get("har/har", 0.0)
    assert float(two_copies_shown(dam, sire).result) == pytest.approx(engine, abs=NEAR)


def test_shown_by_either_place_equals_the_engine() -> None:
    """Two carriers of two loci that look alike: of the children that show, 6/7 carry the first."""
    both = {"sg": {"+/har": 1}, "du": {"+/dun": 1}}
    population = Population(
        loci=(Locus("sg", ("+", "har")), Locus("du", ("+", "dun"))),
        animals=(
            Animal("F1", "female", founder=both),
            Animal("M1", "male", founder=both),
            Animal("K1", dam="F1", sire="M1", shows={"Saltgrass": Sighting(True)}),
        ),
        traits=(Trait("Saltgrass", recessive_at=("sg", "du")),),
    )
    engine = 1 - solve(population).posterior("K1", "sg")["+/+"]
    elsewhere = parents_cross(Parent(1), Parent(1), copies=2).result
    found = shown_by_either_place(Parent(1), Parent(1), elsewhere).result
    assert found == Fraction(6, 7)
    assert float(found) == pytest.approx(engine, abs=NEAR)
    with pytest.raises(ImpossibleEvidence, match="no child of these two can show"):
        shown_by_either_place(Parent(1), Parent(0), 0)


def linked(sex: Sex, sire: Number, shows: Mapping[str, Sighting], key: str) -> float:
    """A child of a dam with one copy (2/3) or two (1/6) and a sire with his one copy."""
    dam = {"+/+": Fraction(1, 6), "+/har": TWO_THIRDS, "har/har": Fraction(1, 6)}
    return chance(
        Animal("F1", "female", founder={"sg": dam}),
        Animal("M1", "male", founder={"sg": {"+/Y": 1 - sire, "har/Y": sire}}),
        Animal("K1", sex, dam="F1", sire="M1", shows=shows),
        of="K1",
        key=key,
        chromosome="X",
    )


@pytest.mark.parametrize("sire", [0, Fraction(1, 3), 1])
def test_linked_children_equal_the_engine(sire: Number) -> None:
    dam = Parent(TWO_THIRDS, Fraction(1, 6))
    daughter = normal_linked_child(dam, sire).result
    assert float(daughter) == pytest.approx(linked("female", sire, CLEAN, "+/har"), abs=NEAR)
    son = single_linked_child(dam).result
    assert float(son) == pytest.approx(linked("male", sire, {}, "har/Y"), abs=NEAR)


@pytest.mark.parametrize("frequency", [0, 0.01, Fraction(1, 4), HALF])
def test_normal_stranger_equals_the_engine(frequency: Number) -> None:
    engine = chance(Animal("F1", shows=CLEAN), of="F1", f=frequency)
    assert float(normal_stranger(frequency).result) == pytest.approx(engine, abs=NEAR)


@pytest.mark.parametrize(
    "mate",
    [Parent(1), Parent(0, 1), Parent(TWO_THIRDS), Parent(HALF, Fraction(1, 4)), Parent(0)],
)
@pytest.mark.parametrize("offspring", [0, 1, 7, 16, 17])
def test_clean_offspring_equals_the_engine(mate: Parent, offspring: int) -> None:
    engine = chance(
        founder("F1", "female", mate),
        founder("M1", "male", Parent(TWO_THIRDS)),
        of="M1",
        tally=TallyLine(offspring, shows=CLEAN),
    )
    result = clean_offspring(TWO_THIRDS, offspring, mate).result
    assert float(result) == pytest.approx(engine, abs=NEAR)


@pytest.mark.parametrize("sons", range(7))
def test_single_copy_offspring_equals_the_engine(sons: int) -> None:
    engine = chance(
        Animal("F1", "female", founder={"sg": {"+/+": HALF, "+/har": HALF}}),
        Animal("M1", "male", founder={"sg": {"+/Y": 1}}),
        of="F1",
        chromosome="X",
        tally=TallyLine(sons, "male", CLEAN),
    )
    assert float(single_copy_offspring(HALF, sons).result) == pytest.approx(engine, abs=NEAR)


@pytest.mark.parametrize("stated", [1, TWO_THIRDS, 0])
@pytest.mark.parametrize("reliability", [0, 0.9, 1])
def test_founder_papers_equal_the_engine(stated: Number, reliability: Number) -> None:
    p, q = exact(stated), exact(reliability)
    # The row without genotypes is the source that is wrong: the background decides.
    rows = (
        FounderRow(q * p, {"sg": "+/har"}),
        FounderRow(q * (1 - p), {"sg": "+/+"}),
        FounderRow(1 - q, {}),
    )
    engine = chance(Animal("M1", "male", founder_joint=rows), of="M1", f=0.1)
    result = founder_papers(stated, reliability, 0.1).result
    assert float(result) == pytest.approx(engine, abs=NEAR)


@pytest.mark.parametrize("false_alarm", [0, 0.02])
def test_clean_test_equals_the_engine(false_alarm: Number) -> None:
    clean = {"+/+": 1 - exact(false_alarm), "+/har": Fraction(1, 10)}
    engine = chance(founder("M1", "male", Parent(TWO_THIRDS), likelihood={"sg": clean}), of="M1")
    result = clean_test(TWO_THIRDS, 0.9, false_alarm).result
    assert float(result) == pytest.approx(engine, abs=NEAR)


def test_unseen_look_equals_the_engine() -> None:
    """A dominant look that four in five carriers show; one in fifty others is taken for such."""
    look = Sighting(False, false_negative=Fraction(1, 5), false_positive=Fraction(1, 50))
    population = Population(
        loci=(Locus("sg", ("+", "har")),),
        animals=(founder("M1", "male", Parent(HALF), shows={"Saltgrass": look}),),
        traits=(Trait("Saltgrass", shown_by=({"sg": ("+/har", "har/har")},)),),
    )
    engine = solve(population).posterior("M1", "sg")["+/har"]
    assert float(unseen_look(HALF, 0.8, 0.02).result) == pytest.approx(engine, abs=NEAR)
    with pytest.raises(ImpossibleEvidence, match="the look is sure to be seen on such an animal"):
        unseen_look(1, 1)


@pytest.mark.parametrize("mate", [Parent(0, 1), Parent(TWO_THIRDS)])
def test_open_line_with_clean_offspring_equals_the_engine(mate: Parent) -> None:
    """Lines har and pel at one locus, dun at another; the mate may have har; five clean young."""
    p, parts = (
        Fraction(8, 15),
        {"har": Fraction(1, 2), "pel": Fraction(1, 6), "dun": Fraction(1, 3)},
    )
    keys = [{"sg": "+/har"}, {"sg": "+/pel"}, {"du": "+/dun"}]
    rows = [FounderRow(p * v, one) for v, one in zip(parts.values(), keys, strict=True)]
    stated = tuple(
        FounderRow(row.p, {"sg": "+/+", "du": "+/+"} | dict(row.genotypes))
        for row in (*rows, FounderRow(1 - p, {}))
    )
    population = Population(
        loci=(Locus("sg", ("+", "har", "pel")), Locus("du", ("+", "dun"))),
        animals=(founder("F1", "female", mate), Animal("M1", "male", founder_joint=stated)),
        clutches=(Clutch("C1", (Couple("F1", "M1"),), tally=(TallyLine(5, shows=CLEAN),)),),
        traits=(Trait("Saltgrass", recessive_at=("sg", "du")),),
    )
    solved = solve(population)
    har, pel = (solved.posterior("M1", "sg")[key] for key in ("+/har", "+/pel"))
    dun = solved.posterior("M1", "du")["+/dun"]

    def worked(**asked: Any) -> float:
        return float(clean_offspring_of_open_line(p, TWO_THIRDS, 5, mate, **asked).result)

    assert worked() == pytest.approx(har + pel + dun, abs=NEAR)
    assert worked(share=parts["har"]) == pytest.approx(har, abs=NEAR)
    assert worked(share=parts["pel"]) == pytest.approx(pel, abs=NEAR)
    assert worked(share=parts["dun"], shared=False) == pytest.approx(dun, abs=NEAR)


def test_positive_test_equals_the_engine() -> None:
    found = {"+/+": Fraction(2, 100), "+/har": Fraction(9, 10)}
    engine = chance(founder("M1", "male", Parent(TWO_THIRDS), likelihood={"sg": found}), of="M1")
    assert float(positive_test(TWO_THIRDS, 0.9, 0.02).result) == pytest.approx(engine, abs=NEAR)


def test_workings_one_after_another_equal_the_engine() -> None:
    """A normal child of two carriers, tested clean, with five clean young by a carrier."""
    engine = chance(
        founder("F1", "female", Parent(1)),
        founder("F2", "female", Parent(1)),
        founder("M2", "male", Parent(1)),
        Animal(
            "M1",
            "male",
            dam="F2",
            sire="M2",
            shows=CLEAN,
            likelihood={"sg": {"+/+": 1, "+/har": Fraction(1, 10), "har/har": 1}},
        ),
        of="M1",
        tally=TallyLine(5, shows=CLEAN),
    )
    child = normal_child(Parent(1), Parent(1))
    tested = clean_test(child, 0.9)
    bred = clean_offspring(tested, 5, Parent(1))

    assert float(bred.result) == pytest.approx(engine, abs=NEAR)
    assert bred.steps[: len(tested.steps)] == tested.steps
    assert tested.steps[: len(child.steps)] == child.steps


def test_papers_then_a_clean_test_compound() -> None:
    papers = founder_papers(1, 0.9, 0)
    assert papers.result == Fraction(9, 10)
    assert clean_test(papers, 0.9).result == Fraction(9, 19)


def test_papers_that_leave_the_line_open_count_by_its_share() -> None:
    papers = founder_papers(TWO_THIRDS, 0.9, share=Fraction(1, 3))
    assert (papers.result, papers.formula) == (Fraction(1, 5), "p × q × w")
    assert founder_papers(TWO_THIRDS).formula == "p"


# ---- published -------------------------------------------------------------------------------


def test_clean_offspring_updates_as_published() -> None:
    """M1.update: derived from Mendel's segregation law."""
    numbers = published("M1.update")
    for n, by_carrier, by_shown in zip(
        numbers["n"], numbers["mate_Aa"], numbers["mate_aa"], strict=True
    ):
        assert float(clean_offspring(TWO_THIRDS, n, Parent(1)).result) == pytest.approx(
            by_carrier, abs=1e-10
        )
        assert float(clean_offspring(TWO_THIRDS, n, Parent(0, 1)).result) == pytest.approx(
            by_shown, abs=1e-10
        )


def test_normal_sib_is_a_carrier_as_published() -> None:
    """B2.sib23: any text on genetics; stated in class pages."""
    assert normal_child(Parent(1), Parent(1)).result == Fraction(
        *published("B2.sib23")["p_carrier"]
    )


def test_normal_sib_with_healthy_young_as_published() -> None:
    """B2.sib_kids: derived from Mendel's segregation law."""
    sib = normal_child(Parent(1), Parent(1))
    found = [clean_offspring(sib, k, Parent(1)).result for k in range(8)]
    assert found == [Fraction(text) for text in published("B2.sib_kids")["k_0_to_7"]]


def test_unaffected_sons_as_published() -> None:
    """B2.kennedy: Ogino and Wilson 2004, J Mol Diagn 6(1): 1-9, figure 1A."""
    numbers = published("B2.kennedy")
    prior = Fraction(*numbers["prior"])
    assert single_copy_offspring(prior, 3).result == Fraction(*numbers["posterior"])
    found = [single_copy_offspring(prior, k).result for k in range(7)]
    assert found == [Fraction(text) for text in numbers["k_sons_0_to_6"]]


def test_negative_test_as_published() -> None:
    """B2.negtest: standard figures (Ogino and Wilson 2004), quoted from memory."""
    numbers = published("B2.negtest")
    assert clean_test(TWO_THIRDS, 0.9).result == Fraction(*numbers["prior_2/3"])
    assert clean_test(Fraction(1, 25), 0.9).result == Fraction(*numbers["prior_1/25"])


def test_normal_stranger_as_published() -> None:
    """B2.thompson2: E. A. Thompson, University of Washington, course notes, section 3.2."""
    numbers = published("B2.thompson2")
    stranger = normal_stranger(Fraction(1, 4))
    assert stranger.result == Fraction(*numbers["p_carrier_given_normal"])
    assert stranger.result / 2 == Fraction(*numbers["p_transmit_recessive"])
    child = [parents_cross(Parent(stranger), Parent(1), copies=k).result for k in range(3)]
    assert child == [Fraction(text) for text in numbers["child_NN_ND_DD"]]


def test_clean_offspring_needed_for_99_per_cent_depend_on_the_prior() -> None:
    """Derived from Mendel's segregation law: 16 of a carrier mate from 1/2, 19 from 2/3."""

    def needed(prior: Fraction) -> int:
        n = 0
        while clean_offspring(prior, n, Parent(1)).result > Fraction(1, 100):
            n += 1
        return n

    assert [needed(HALF), needed(TWO_THIRDS)] == [16, 19]


def test_seventeen_clean_young_of_a_carrier_not_sixteen() -> None:
    """1 − (3/4)ⁿ and 1 − (1/2)ⁿ reach 99 % at 17 and 7: Mendel's segregation law."""

    def enough(mate: Parent) -> int:
        return next(n for n in range(99) if shown_by_now(n, mate).result >= Fraction(99, 100))

    assert [enough(Parent(1)), enough(Parent(0, 1))] == [17, 7]
    sixteen = shown_by_now(16, Parent(1))
    assert sixteen.formula == "c_mate - c_mate × (3/4)^n"
    assert float(sixteen.result) == pytest.approx(0.98997, abs=1e-5)


# ---- equations as displayed ------------------------------------------------------------------

WORKINGS: dict[str, Callable[[], Working]] = {
    "cross": lambda: parents_cross(*PARENTS[1], copies=1),
    "cross without a copy": lambda: parents_cross(*PARENTS[0], copies=0),
    "normal child": lambda: normal_child(*PARENTS[1]),
    "stranger": lambda: normal_stranger(Fraction(1, 4)),
    "carrier mate": lambda: clean_offspring(TWO_THIRDS, 7, Parent(1)),
    "mate that shows": lambda: clean_offspring(TWO_THIRDS, 7, Parent(0, 1)),
    "possible carrier mate": lambda: clean_offspring(TWO_THIRDS, 7, Parent(HALF, Fraction(1, 4))),
    "no offspring": lambda: clean_offspring(TWO_THIRDS, 0, Parent(1)),
    "sons": lambda: single_copy_offspring(HALF, 3),
    "papers": lambda: founder_papers(TWO_THIRDS, 0.9, 0.01),
    "test": lambda: clean_test(TWO_THIRDS, 0.9, 0.02),
    "papers alone": lambda: founder_papers(TWO_THIRDS),
    "papers without a line": lambda: founder_papers(TWO_THIRDS, 0.9, share=Fraction(1, 3)),
    "positive test": lambda: positive_test(TWO_THIRDS, 0.9, 0.02),
    "either place": lambda: shown_by_either_place(*PARENTS[1], Fraction(1, 4)),
    "open line": lambda: clean_offspring_of_open_line(HALF, TWO_THIRDS, 5, Parent(0, 1)),
    "one open line": lambda: clean_offspring_of_open_line(
        HALF, TWO_THIRDS, 5, Parent(HALF), share=Fraction(1, 3)
    ),
    "unseen look": lambda: unseen_look(TWO_THIRDS, 0.8, 0.02),
    "child of one carrier": lambda: carrying_child(Parent(TWO_THIRDS), Parent(0)),
    "carrying child": lambda: carrying_child(*PARENTS[1]),
    "two copies": lambda: two_copies_shown(*PARENTS[1]),
    "linked daughter": lambda: normal_linked_child(PARENTS[1][1], Fraction(1, 3)),
    "linked son": lambda: single_linked_child(PARENTS[1][1]),
    "shown by now": lambda: shown_by_now(7, PARENTS[1][1]),
    "all": lambda: clean_offspring(
        clean_test(founder_papers(TWO_THIRDS, 0.9, 0.01), 0.9), 5, Parent(normal_stranger(0.1))
    ),
}


def given(working: Working) -> dict[str, Fraction]:
    """What each symbol stands for at the end: the last side of each step."""
    sides = (step.plain.split(" = ") for step in working.steps)
    return {side[0]: Fraction(side[-1]) for side in sides}


def worked_out(text: str, values: Mapping[str, Fraction]) -> Fraction:
    """The value of a plain formula."""
    code = text.replace("^", "**").replace("×", "*")
    code = re.sub(r"(?<![\w.])(\d+)", r"Fraction(\1)", code)
    found: Fraction = eval(code, {"Fraction": Fraction}, dict(values))  # our own text
    return found


def as_read(node: ElementTree.Element) -> str:
    """Presentation MathML as the eye reads it: rows add no brackets that are not there."""
    tag = node.tag.removeprefix("{" + MATHML + "}")
    if tag in ("mn", "mi", "mo"):
        text = node.text or ""
        return {"mn": f"Fraction({text})", "mo": text.replace("×", "*")}.get(tag, text)
    parts = [as_read(child) for child in node]
    if tag == "msub":
        return "_".join(part.removeprefix("Fraction(").removesuffix(")") for part in parts)
    if tag == "mfrac":
        return f"(({parts[0]})/({parts[1]}))"
    if tag == "msup":
        base = node[0].tag.removeprefix("{" + MATHML + "}")
        assert base != "mfrac", "a fraction with an exponent needs brackets"
        return f"{parts[0]}**({parts[1]})"
    assert tag in ("math", "mrow"), tag
    return "".join(parts)


@pytest.mark.parametrize("name", list(WORKINGS))
def test_steps_state_true_equations(name: str) -> None:
    working = WORKINGS[name]()
    values: dict[str, Fraction] = {}
    for step in working.steps:
        symbol, *sides = step.plain.split(" = ")
        values[symbol] = Fraction(sides[-1])
        assert {worked_out(side, values) for side in sides} == {values[symbol]}, step.plain
        assert step.text


@pytest.mark.parametrize("name", list(WORKINGS))
def test_formula_gives_the_result(name: str) -> None:
    working = WORKINGS[name]()
    assert worked_out(working.formula, given(working)) == working.result


@pytest.mark.parametrize("name", list(WORKINGS))
def test_mathml_is_well_formed_and_true_as_displayed(name: str) -> None:
    working = WORKINGS[name]()
    values: dict[str, Fraction] = {}
    for markup in [*(step.mathml for step in working.steps), working.mathml]:
        root = ElementTree.fromstring(markup)
        assert root.tag == "{" + MATHML + "}math"
        symbol, *sides = as_read(root).split("=")
        last: Fraction = eval(sides[-1], {"Fraction": Fraction})
        values[symbol] = last
        found = {eval(side, {"Fraction": Fraction}, dict(values)) for side in sides}
        assert found == {last}, markup
    assert last == working.result


def test_formula_reads_as_written() -> None:
    working = clean_offspring(TWO_THIRDS, 3, Parent(1))
    assert working.result == Fraction(27, 59)
    assert working.formula == (
        "p × (1 - c_mate + c_mate × (3/4)^n)/(1 - p + p × (1 - c_mate + c_mate × (3/4)^n))"
    )
    assert [step.plain for step in working.steps[:3]] == ["p = 2/3", "c_mate = 1", "n = 3"]


# ---- what is refused -------------------------------------------------------------------------


def test_workings_refuse_what_is_no_chance() -> None:
    with pytest.raises(MalformedCase) as caught:
        clean_offspring(Fraction(3, 2), 1, Parent(1))
    assert caught.value.place == "prior"
    with pytest.raises(MalformedCase) as caught:
        normal_child(Parent(TWO_THIRDS, HALF), Parent(1))
    assert str(caught.value) == "dam: chances sum to 7/6; expected at most 1"
    with pytest.raises(MalformedCase) as caught:
        clean_offspring(HALF, -1, Parent(1))
    assert caught.value.place == "offspring"
    with pytest.raises(MalformedCase) as caught:
        parents_cross(Parent(1), Parent(1), copies=3)
    assert str(caught.value) == "copies: 3 is not accepted; expected 0, 1 or 2"


def test_workings_refuse_what_cannot_have_been_seen() -> None:
    with pytest.raises(ImpossibleEvidence) as caught:
        normal_child(Parent(0, 1), Parent(0, 1))
    assert str(caught.value) == "no child of two animals that both show can look normal"
    with pytest.raises(ImpossibleEvidence) as caught:
        normal_stranger(1)
    assert str(caught.value) == "no animal looks normal where every allele is the mutant"
    with pytest.raises(ImpossibleEvidence) as caught:
        two_copies_shown(Parent(0), Parent(0))
    assert str(caught.value) == "no child of two animals without the allele can show"
    with pytest.raises(ImpossibleEvidence) as caught:
        normal_linked_child(Parent(0, 1), 1)
    assert str(caught.value) == "no such child can look normal"
    with pytest.raises(ImpossibleEvidence) as caught:
        positive_test(1, 0)
    assert str(caught.value) == "the test cannot have found anything"
    with pytest.raises(MalformedCase) as malformed:
        founder_papers(1, 1, 0.1, share=HALF)
    assert malformed.value.place == "share"
    with pytest.raises(ImpossibleEvidence) as caught:
        clean_test(1, 1)
    assert str(caught.value) == "the test cannot have come back clean"


def test_exact_reads_a_float_as_it_prints() -> None:
    assert [exact(0.9), exact(1e-5), exact(HALF), exact(1)] == [
        Fraction(9, 10),
        Fraction(1, 100000),
        HALF,
        1,
    ]


def test_module_imports_without_sympy() -> None:
    code = "import sys, genetics.working; print('sympy' in sys.modules)"
    run = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert run.stdout == "False\n"
