"""Explanations against closed forms, and against the whole book solved again."""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from genetics.case_reader import read_case
from genetics.errors import ImpossibleEvidence, MalformedCase
from genetics.explain import (
    Contribution,
    carrier_keys,
    contributions,
    history,
    known_only,
)
from genetics.population import (
    Animal,
    Clutch,
    Couple,
    FounderRow,
    Locus,
    Population,
    SameLocus,
    Sighting,
    TallyLine,
    Trait,
)
from genetics.record_names import RecordName, records, tally_line
from genetics.relevance import coupled_loci, relevant
from genetics.solving import Solved, solve
from tests.genetics.cases import STRATEGIES
from tests.genetics.twin_genome import Case

NEAR = 1e-12
SG = Locus("sg", ("+", "har"))
QW = Locus("qw", ("+", "pel"))
SALTGRASS = Trait("Saltgrass", recessive_at=("sg",))
QUILLWORT = Trait("Quillwort", recessive_at=("qw",))
CLEAN = {"Saltgrass": Sighting(False)}
SEEN = {"Saltgrass": Sighting(True)}
CARRIER = {"sg": {"+/har": 1}}
CARRIES = ("+/har", "har/har")

several = settings(
    max_examples=12,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)


def cases() -> st.SearchStrategy[Case]:
    """Cases of any one feature, or of several."""
    return st.one_of(list(STRATEGIES.values()))


random_choices = st.integers(0, 2**16).map(Random)


def book(*animals: Animal, clutches: tuple[Clutch, ...] = (), f: float = 0.0) -> Population:
    """One or two lines in a background where `har` has frequency f."""
    return Population(
        loci=(SG, QW),
        animals=animals,
        clutches=clutches,
        traits=(SALTGRASS, QUILLWORT),
        background={"sg": {"har": f}, "qw": {"pel": 0.25}},
    )


def clutch(*lines: TallyLine) -> Clutch:
    return Clutch("C1", (Couple("F1", "M1"),), tally=lines)


def pair_of_carriers(clean: int) -> Population:
    """A 2/3 carrier with clean offspring of a sure carrier."""
    return book(
        Animal("F1", "female", founder={"sg": {"+/+": 1 / 3, "+/har": 2 / 3}}),
        Animal("M1", "male", founder=CARRIER),
        clutches=(clutch(TallyLine(clean, shows=CLEAN)),),
        f=0.1,
    )


def by_record(found: tuple[Contribution, ...]) -> dict[str, Contribution]:
    return {str(one.record): one for one in found}


def figure(solved: Solved, animal: str, locus: str, keys: frozenset[str]) -> float:
    return sum(p for key, p in solved.posterior(animal, locus).items() if key in keys)


@pytest.mark.parametrize("clean", [1, 7, 40])
def test_contributions_of_a_clutch_tally_equal_the_closed_form(clean: int) -> None:
    found = by_record(contributions(pair_of_carriers(clean), "F1", "sg", CARRIES))

    tally = found["C1.tally[0]"]
    odds = 2 * 0.75**clean
    assert tally.chance == pytest.approx(odds / (1 + odds), abs=NEAR)
    assert tally.without == pytest.approx(2 / 3, abs=NEAR)
    assert tally.weight == pytest.approx(clean * math.log(3 / 4), abs=1e-9)
    assert tally.bayes_factor == pytest.approx(0.75**clean, rel=1e-9)
    assert tally.exact


def test_contributions_without_a_founders_statement_fall_back_to_the_background() -> None:
    clean = 7
    found = by_record(contributions(pair_of_carriers(clean), "F1", "sg", CARRIES))

    # From the background F1 has 0, 1, 2 copies by Hardy and Weinberg; the mate is a carrier.
    none, one, two = 0.81, 0.18 * 0.75**clean, 0.01 * 0.5**clean
    statement = found["F1.founder.sg"]
    assert statement.without == pytest.approx((one + two) / (none + one + two), abs=NEAR)


def test_contributions_without_a_joint_statement_fall_back_to_the_background() -> None:
    rows = (FounderRow(0.5, {"sg": "+/har", "qw": "+/+"}), FounderRow(0.5, {"sg": "+/+"}))
    founder = Animal("F1", "female", founder_joint=rows)

    found = contributions(book(founder, f=0.1), "F1", "sg", CARRIES)

    assert [str(one.record) for one in found] == ["F1.founder_joint"]
    assert found[0].chance == pytest.approx(0.5, abs=NEAR)
    assert found[0].without == pytest.approx(0.19, abs=NEAR)


def test_contributions_without_parents_leave_an_unrecorded_couple() -> None:
    f = 0.1
    population = book(
        Animal("F1", "female", founder=CARRIER),
        Animal("M1", "male", founder=CARRIER),
        Animal("K1", "male", dam="F1", sire="M1", shows=CLEAN),
        f=f,
    )

    found = by_record(contributions(population, "K1", "sg", CARRIES))

    assert set(found) == set(map(str, records(population)))
    assert found["K1.parents"].chance == pytest.approx(2 / 3, abs=NEAR)
    assert found["K1.parents"].without == pytest.approx(2 * f / (1 + f), abs=NEAR)


def test_contributions_without_a_clutchs_parents_leave_its_young_siblings() -> None:
    f = 0.1
    population = book(
        Animal("F1", "female", founder=CARRIER),
        Animal("M1", "male", founder=CARRIER),
        Animal("K1", clutch="C1"),
        Animal("K2", clutch="C1", shows=SEEN),
        clutches=(clutch(),),
        f=f,
    )

    found = by_record(contributions(population, "K1", "sg", ("+/har",)))

    # K2 has two copies; its sib shares both, one or none of its alleles: 1/4, 1/2, 1/4.
    expected = (1 - f) / 2 + 2 * f * (1 - f) / 4
    assert found["C1.parents"].without == pytest.approx(expected, abs=NEAR)


def test_contributions_weigh_a_laboratory_test_by_its_likelihood_ratio() -> None:
    animal = Animal(
        "F1",
        founder={"sg": {"+/+": 0.5, "+/har": 0.5}},
        likelihood={"sg": {"+/+": 1, "+/har": 0.1}},
    )

    found = by_record(contributions(book(animal), "F1", "sg", CARRIES))

    assert found["F1.likelihood.sg"].weight == pytest.approx(math.log(0.1), abs=NEAR)


def test_contributions_mark_a_record_without_which_the_rest_cannot_be() -> None:
    population = book(
        Animal("F1", "female", founder=CARRIER),
        Animal("M1", "male", founder={"sg": {"+/+": 0.5, "+/har": 0.5}}),
        Animal("K1", dam="F1", sire="M1", shows=SEEN),
        Animal("K2", dam="F1", sire="M1"),
    )

    found = contributions(population, "K2", "sg", CARRIES)

    assert [(str(one.record), one.without, one.weight) for one in found[:3]] == [
        ("K1.parents", None, None),
        ("F1.founder.sg", None, None),
        ("M1.founder.sg", None, None),
    ]
    assert found[0].moved == math.inf
    assert found[0].bayes_factor is None
    assert [str(one.record) for one in found[3:]] == ["K2.parents", "K1.shows.Saltgrass"]
    assert found[3].without == pytest.approx(0, abs=NEAR)
    assert found[3].weight == math.inf


def test_contributions_come_in_the_order_of_what_they_move() -> None:
    found = contributions(pair_of_carriers(7), "F1", "sg", CARRIES)

    moved = [one.moved for one in found]
    assert moved == sorted(moved, reverse=True)


def test_contributions_leave_out_records_that_cannot_matter() -> None:
    pair = pair_of_carriers(3)
    population = replace(
        pair,
        animals=(
            *(a._replace(shows={"Quillwort": Sighting(False)}) for a in pair.animals),
            Animal("K1", clutch="C1"),
            Animal("Elsewhere", founder=CARRIER, shows=CLEAN),
        ),
    )

    found = contributions(population, "F1", "sg", CARRIES)

    expected = contributions(pair, "F1", "sg", CARRIES)
    assert {one.record for one in found} == {one.record for one in expected}
    assert found == expected


def test_contributions_report_progress() -> None:
    calls: list[tuple[int, int]] = []

    contributions(
        pair_of_carriers(3), "F1", "sg", CARRIES, progress=lambda done, of: calls.append((done, of))
    )

    assert calls == [(1, 4), (2, 4), (3, 4), (4, 4)]


def test_contributions_refuse_impossible_evidence() -> None:
    population = book(Animal("F1", founder=CARRIER, shows=SEEN))

    with pytest.raises(ImpossibleEvidence) as caught:
        contributions(population, "F1", "sg", CARRIES)
    assert str(caught.value) == "the records that bear on F1 cannot all be true"


@pytest.mark.parametrize(
    ("animal", "locus", "key", "message"),
    [
        ("F2", "sg", "+/+", "animal: no animal has the id 'F2'; the nearest is 'F1'"),
        ("F1", "sh", "+/+", "locus: no locus has the id 'sh'; the nearest is 'sg'"),
        ("F1", "sg", "har/+", "keys: 'har/+' is no genotype at sg; "
         "expected ['+/+', '+/har', 'har/har']"),
    ],
)  # fmt: skip
def test_contributions_name_what_is_unknown(
    animal: str, locus: str, key: str, message: str
) -> None:
    with pytest.raises(MalformedCase) as caught:
        contributions(pair_of_carriers(3), animal, locus, (key,))
    assert str(caught.value).replace('"', "'") == message


def test_carrier_keys_are_those_with_a_copy() -> None:
    assert carrier_keys(Locus("xl", ("+", "x"), "X"), "XY", "x") == {"+/x", "x/x", "x/Y"}
    with pytest.raises(MalformedCase) as caught:
        carrier_keys(SG, "XY", "pel")
    assert caught.value.place == "allele"


def test_carrier_keys_serve_an_animal_of_either_sex() -> None:
    locus = Locus("xl", ("+", "x"), "X")
    population = Population(
        loci=(locus,),
        sex_determination="XY",
        animals=(
            Animal("F1", "female", founder={"xl": {"+/x": 1}}),
            Animal("K1", "male", dam="F1"),
            Animal("K2", dam="F1"),
        ),
    )
    keys = carrier_keys(locus, "XY", "x")

    for animal in ("K1", "K2"):
        assert contributions(population, animal, "xl", keys)[0].chance == pytest.approx(0.5)


def test_history_adds_records_by_date_after_the_undated() -> None:
    population = book(
        Animal("F1", "female", founder={"sg": {"+/+": 1 / 3, "+/har": 2 / 3}}),
        Animal("M1", "male", founder=CARRIER),
        clutches=(clutch(TallyLine(3, shows=CLEAN), TallyLine(2, shows=CLEAN)),),
        f=0.1,
    )
    dated = [
        (tally_line("C1", 0), 2022),
        (tally_line("C1", 1), 2021),
        (RecordName("clutch", "C1", "parents"), 2020),
    ]

    steps = history(population, "F1", "sg", CARRIES, dated)

    assert [(str(one.record), one.when) for one in steps] == [
        ("F1.founder.sg", None),
        ("M1.founder.sg", None),
        ("C1.tally[1]", 2021),
        ("C1.tally[0]", 2022),
    ]
    figures = [0.19, 2 / 3, 2 / 3, 2 * 0.75**2 / (1 + 2 * 0.75**2), 2 * 0.75**5 / (1 + 2 * 0.75**5)]
    assert [one.before for one in steps] == pytest.approx(figures[:-1], abs=NEAR)
    assert [one.after for one in steps] == pytest.approx(figures[1:], abs=NEAR)


def test_history_has_no_figure_while_the_records_cannot_be() -> None:
    population = book(Animal("F1", founder={"sg": {"har/har": 1}}, shows=SEEN))

    steps = history(
        population, "F1", "sg", CARRIES, [(RecordName("animal", "F1", "founder", "sg"), 2)]
    )

    assert [(str(one.record), one.before, one.after) for one in steps] == [
        ("F1.shows.Saltgrass", 0.0, None),
        ("F1.founder.sg", None, 1.0),
    ]


def test_history_reports_progress() -> None:
    calls: list[tuple[int, int]] = []

    history(
        pair_of_carriers(3),
        "F1",
        "sg",
        CARRIES,
        [],
        progress=lambda done, of: calls.append((done, of)),
    )

    assert calls == [(1, 3), (2, 3), (3, 3)]


def test_history_refuses_an_unknown_record_and_a_second_date() -> None:
    with pytest.raises(MalformedCase) as unknown:
        history(pair_of_carriers(3), "F1", "sg", CARRIES, [(tally_line("C1", 4), 1)])
    assert unknown.value.place == "dated[0]"
    again = [(tally_line("C1", 0), 1), (tally_line("C1", 0), 2)]
    with pytest.raises(MalformedCase) as twice:
        history(pair_of_carriers(3), "F1", "sg", CARRIES, again)
    assert str(twice.value).replace('"', "'") == (
        "dated[1]: 'C1.tally[0]' has a date already; expected one date each"
    )


def test_coupled_loci_follow_traits_that_were_looked_for() -> None:
    both = Trait("Chalk", shown_by=({"qw": ("pel/pel",)},), hides=("Saltgrass",))
    seen = Population(loci=(SG, QW), traits=(SALTGRASS, both), animals=(Animal("F1", shows=CLEAN),))
    unseen = replace(seen, animals=(Animal("F1"),))

    assert coupled_loci(seen, "sg") == {"sg", "qw"}
    assert coupled_loci(unseen, "sg") == {"sg"}


def test_contributions_of_another_family_count_where_lines_may_be_one_locus() -> None:
    """A crossing elsewhere that shows the look makes two lines one, here as well."""
    look = Trait("Pale", recessive_at=("sg", "qw"))
    here = Animal("F1", founder={"sg": {"+/har": 1}}, shows={"Pale": Sighting(True)})
    cross = (
        Animal("A", "female", founder={"sg": {"har/har": 1}, "qw": {"+/+": 1}}),
        Animal("B", "male", founder={"sg": {"+/+": 1}, "qw": {"pel/pel": 1}}),
        Animal("K1", dam="A", sire="B", shows={"Pale": Sighting(True)}),
    )
    population = Population(
        loci=(SG, QW),
        traits=(look,),
        animals=(here, *cross),
        background={"qw": {"pel": 0.2}},
        same_locus=(SameLocus(("sg", "qw"), 0.5),),
    )

    found = by_record(contributions(population, "F1", "qw", ("+/pel",)))

    # Seen at K1 the lines are one, so that F1 has one copy of each; else F1 shows by qw alone.
    assert found["K1.shows.Pale"].chance == pytest.approx(1, abs=NEAR)
    without = found["K1.shows.Pale"].without
    assert without is not None
    assert 0 < without < 1


def solvable(case: Case) -> tuple[Population, Solved]:
    population = read_case(case).population
    try:
        return population, solve(population)
    except ImpossibleEvidence:
        assume(False)
        raise


def figure_of(population: Population, choices: Random) -> tuple[str, str, frozenset[str]]:
    """An animal, a locus and some of the genotypes there, at random."""
    animal = choices.choice(population.animals).id
    locus = choices.choice(population.loci)
    allele = choices.choice(locus.alleles)
    return animal, locus.id, carrier_keys(locus, population.sex_determination, allele)


@several
@given(cases())
def test_relevant_part_gives_the_posterior_of_the_whole(case: Case) -> None:
    population, solved = solvable(case)
    for animal in population.animals:
        for locus in population.loci:
            part = solve(relevant(population, animal.id, locus.id))
            assert part.posterior(animal.id, locus.id) == pytest.approx(
                solved.posterior(animal.id, locus.id), abs=1e-9
            )


@several
@given(cases(), random_choices)
def test_contributions_equal_the_whole_book_without_the_record(case: Case, choices: Random) -> None:
    population, solved = solvable(case)
    animal, locus, keys = figure_of(population, choices)
    now = figure(solved, animal, locus, keys)
    every = set(records(population))
    found = {one.record: one for one in contributions(population, animal, locus, keys)}

    assert set(found) <= every
    for name in every:
        try:
            left = figure(solve(known_only(population, every - {name})), animal, locus, keys)
        except ImpossibleEvidence:
            continue  # perhaps of another family, or at another locus
        if name in found:
            assert found[name].chance == pytest.approx(now, abs=1e-9)
            assert found[name].without == pytest.approx(left, abs=1e-9)
        else:
            assert left == pytest.approx(now, abs=1e-9), f"{name} matters"


@several
@given(cases(), random_choices)
def test_history_ends_at_the_solved_posterior(case: Case, choices: Random) -> None:
    population, solved = solvable(case)
    animal, locus, keys = figure_of(population, choices)
    names = list(records(population))
    dated = [(name, choices.randrange(5)) for name in names if choices.random() < 0.6]

    steps = history(population, animal, locus, keys, dated)

    assume(steps)
    assert steps[-1].after == pytest.approx(figure(solved, animal, locus, keys), abs=1e-9)
    assert [one.before for one in steps[1:]] == [one.after for one in steps[:-1]]
    dates = [one.when for one in steps if one.when is not None]
    assert dates == sorted(dates)
    assert all(one.when is None for one in steps[: len(steps) - len(dates)])


@several
@given(cases())
def test_known_only_with_every_record_is_the_same_book(case: Case) -> None:
    population, solved = solvable(case)
    again = solve(known_only(population, set(records(population))))
    assert again.log_evidence == pytest.approx(solved.log_evidence, abs=1e-9)
