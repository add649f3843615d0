"""Subproblems: what is counted, what parents alone give, and the way to a worker and back."""

import pickle

import pytest

from genetics.copies import Count, Counted
from genetics.population import (
    NOTHING,
    Animal,
    Clutch,
    Couple,
    Locus,
    Population,
    SameLocus,
    Sighting,
    TallyLine,
    Trait,
)
from genetics.subproblems import (
    AnotherEngine,
    Subproblem,
    answer_packet,
    answered,
    fingerprint,
    pack,
    unpack_answers,
)

SG = Trait("Saltgrass", recessive_at=("sg",))
HET = {"sg": {"+/har": 1}}
Figures = dict[str, tuple[float, float, float]]


def family(*young: Animal, tally: tuple[TallyLine, ...] = ()) -> Population:
    """Two certain hets and their young, by clutch."""
    return Population(
        loci=(Locus("sg", ("+", "har")),),
        traits=(SG,),
        animals=(Animal("D", "female", founder=HET), Animal("S", "male", founder=HET), *young),
        clutches=(Clutch("C", (Couple("D", "S"),), tally=tally),),
    )


def asked(population: Population) -> Subproblem:
    everyone = tuple(population.animal_index)
    return Subproblem(population, (Counted(everyone, (Count("all", "sg", frozenset({"har"})),)),))


def normal(name: str) -> Animal:
    return Animal(name, clutch="C", shows={"Saltgrass": Sighting(seen=False)})


def figures(subproblem: Subproblem) -> tuple[Figures, Figures]:
    """By everything, and by the parents alone: two, one and no copies."""
    answer = answered(subproblem)
    assert answer is not None
    assert answer.alone is not None
    alone = {
        like: (row.two, row.one, row.none)
        for row in answer.alone.copies.rows()
        for like in answer.alone.stands_for[row.animal]
    }
    return {row.animal: (row.two, row.one, row.none) for row in answer.copies.rows()}, alone


def test_normal_young_of_two_hets_have_one_copy_with_two_thirds() -> None:
    found, alone = figures(asked(family(normal("K1"), normal("K2"))))
    assert found == {
        "D": (0.0, 1.0, 0.0),
        "S": (0.0, 1.0, 0.0),
        "K1": (0.0, pytest.approx(2 / 3), pytest.approx(1 / 3)),
        "K2": (0.0, pytest.approx(2 / 3), pytest.approx(1 / 3)),
    }
    assert alone == found


def test_own_young_count_in_the_figure_and_not_in_that_of_the_parents_alone() -> None:
    # K bred to a visual gave 2 normal young: 2/3 · 1/4 against 1/3 · 1, so 1/3.
    population = family(normal("K")._replace(sex="female"))
    visual = Animal("M", "male", founder={"sg": {"har/har": 1}})
    unseen = (TallyLine(2, shows={"Saltgrass": Sighting(seen=False)}),)
    grown = Population(
        loci=population.loci,
        traits=(SG,),
        animals=(*population.animals, visual),
        clutches=(*population.clutches, Clutch("N", (Couple("K", "M"),), tally=unseen)),
    )
    found, alone = figures(asked(grown))
    assert found["K"] == pytest.approx((0.0, 1 / 3, 2 / 3))
    assert alone["K"] == pytest.approx((0.0, 2 / 3, 1 / 3))


def test_who_has_none_for_certain_has_no_row() -> None:
    population = Population(
        loci=(Locus("sg", ("+", "har")),),
        animals=(Animal("D", founder=HET), Animal("N", founder={"sg": {"+/+": 1}})),
    )
    found, _ = figures(asked(population))
    assert found == {"D": (0.0, 1.0, 0.0)}


def test_a_label_at_two_loci_counts_both_and_says_how_likely_they_mix() -> None:
    # One copy at each for certain; one locus after all with 1/4, by the keeper's view alone.
    population = Population(
        loci=(Locus("a", ("+", "x")), Locus("b", ("+", "y"))),
        animals=(Animal("D", founder={"a": {"+/x": 1}, "b": {"+/y": 1}}),),
        same_locus=(SameLocus(("a", "b"), 0.25),),
    )
    counts = (Count("all", "a", frozenset("x")), Count("all", "b", frozenset("y")))
    answer = answered(Subproblem(population, (Counted(("D",), counts),)))
    assert answer is not None
    (row,) = answer.copies.rows()
    assert row[:2] == ("D", "all")
    assert row[2:] == pytest.approx((0.25, 0.75, 0.0, 0.0, 0.75))


def test_impossible_evidence_has_no_answer() -> None:
    visual = Animal("M", "male", founder={"sg": {"har/har": 1}})
    clear = Animal("N", "female", founder={"sg": {"+/+": 1}})
    young = Animal("K", dam="N", sire="M", shows={"Saltgrass": Sighting(seen=True)})
    population = Population(
        loci=(Locus("sg", ("+", "har")),), traits=(SG,), animals=(visual, clear, young)
    )
    assert answered(asked(population)) is None


def test_packed_subproblems_arrive_equal() -> None:
    tally = (TallyLine(3, shows={"Saltgrass": Sighting(seen=False)}),)
    sent = [asked(family(normal("K"), tally=tally)), asked(family())]
    arrived = pickle.loads(pack(sent))
    assert list(arrived) == sent
    assert arrived[0].population.animals[0].shows is NOTHING


def test_a_worker_answers_to_the_last_bit_what_this_process_does() -> None:
    problems = [asked(family(normal("K"))), asked(family(normal("A"), normal("B")))]
    here = [answered(one) for one in problems]
    there = unpack_answers(answer_packet(pack(problems), fingerprint()))
    for mine, theirs in zip(here, there, strict=True):
        assert mine is not None
        assert theirs is not None
        assert list(theirs.copies.rows()) == list(mine.copies.rows())
        assert theirs.alone is not None
        assert mine.alone is not None
        assert list(theirs.alone.copies.rows()) == list(mine.alone.copies.rows())
        assert theirs.alone.stands_for == mine.alone.stands_for


def test_another_engine_is_refused() -> None:
    with pytest.raises(AnotherEngine) as caught:
        answer_packet(pack([]), "some other")
    assert str(caught.value) == "this worker's engine is not the one that asks"
