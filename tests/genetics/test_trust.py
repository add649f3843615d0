"""Words that hold together or not at all: by hand, by the twin, and where they are too many."""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import Any

import numpy as np
import pytest

from genetics import subproblems
from genetics.casefile import answer_case, read_case, write_case
from genetics.conflict import smallest_conflict
from genetics.copies import Count, Counted
from genetics.errors import BeyondExact
from genetics.explain import contributions
from genetics.parents_alone import by_parents_alone
from genetics.population import (
    Animal,
    FounderRow,
    Interval,
    Linkage,
    Locus,
    Population,
    Sighting,
    Statement,
    Trait,
)
from genetics.relevance import coupled_loci, relevant
from genetics.solving import solve
from genetics.subproblems import Subproblem, answered
from tests.genetics.small_cases import HET, VISUAL, case, dam, young
from tests.genetics.test_engine_twin import comparable, differences
from tests.genetics.twin import twin
from tests.genetics.twin_genome import Case

LOT = {"trust": {"lot": 0.9}, "background": {"sg": {"m": 0.1}}}


def said(founder: dict[str, Any], trust: str = "lot") -> dict[str, Any]:
    """What a source said of an animal."""
    return {"statements": [{"trust": trust, "founder": founder}]}


def both(wanted: Case) -> dict[str, Any]:
    """The engine's answer, which the twin gives too."""
    answer: dict[str, Any] = answer_case(wanted)
    assert differences(comparable(answer), comparable(twin(wanted))) == []
    return answer


# --- by hand --------------------------------------------------------------------------------------


def test_a_word_is_weighed_with_what_holds_without_it() -> None:
    """With chance 0.9 het as said, else Hardy and Weinberg: 2 · 0.1 · 0.9 het, 0.01 visual."""
    answer = both(case(dam(**said(HET)), **LOT))
    expected = {"+/+": 0.1 * 0.81, "+/m": 0.9 + 0.1 * 0.18, "m/m": 0.1 * 0.01}
    assert answer["posterior"]["D"]["sg"] == pytest.approx(expected)
    assert answer["trust"] == {"lot": pytest.approx(0.9)}


def test_without_trust_the_animals_own_record_holds() -> None:
    answer = both(case(dam({"sg": {"+/+": 1}}, **said(HET)), **LOT))
    assert answer["posterior"]["D"]["sg"]["+/m"] == pytest.approx(0.9)


def test_a_source_wrong_of_one_animal_is_likelier_wrong_of_its_lot() -> None:
    """E and F were sold as hets together; E's genotype is then read as clean.

    Untrusted 0.1 · 0.81 against trusted 0: the lot is worth nothing, F is as anybody.
    """
    clean = {"likelihood": {"sg": {"+/+": 1}}}
    lot = [
        {"id": "E", "sex": "female", **said(HET), **clean},
        {"id": "F", "sex": "female", **said(HET)},
        {"id": "G", "sex": "female", **said(HET, "other lot")},
    ]
    parts = {**LOT, "trust": {"lot": 0.9, "other lot": 0.9}}
    answer = both(case(*lot, **parts))
    assert answer["trust"] == {"lot": 0, "other lot": pytest.approx(0.9)}
    assert answer["posterior"]["F"]["sg"]["+/m"] == pytest.approx(0.18)
    assert answer["posterior"]["G"]["sg"]["+/m"] == pytest.approx(0.918)


def test_a_source_right_of_one_animal_is_likelier_right_of_its_lot() -> None:
    """E has a visual young by a visual mate: it carries. 0.9 · 1/2 against 0.1 · (0.09 + 0.01)."""
    wanted = case(
        dam(VISUAL), {"id": "E", "sex": "male", **said(HET)}, {"id": "F", **said(HET)},
        {"id": "K", "dam": "D", "sire": "E", "shows": {"Saltgrass": True}}, **LOT,
    )  # fmt: skip
    trusted = 0.45 / (0.45 + 0.01)
    answer = both(wanted)
    assert answer["trust"]["lot"] == pytest.approx(trusted)
    assert answer["posterior"]["F"]["sg"]["+/m"] == pytest.approx(trusted + (1 - trusted) * 0.18)


def test_a_test_that_somebody_spoke_of_weighs_on_any_animal() -> None:
    statement = {"trust": "lot", "likelihood": {"sg": {"+/m": 1, "m/m": 1}}}
    wanted = case(
        dam(HET), {"id": "S", "sex": "male", "founder": {"sg": {"+/+": 1}}},
        young(statements=[statement]), **LOT,
    )  # fmt: skip
    answer = both(wanted)
    # 1/2 · (0.9 + 0.1) against 1/2 · 0.1.
    assert answer["posterior"]["K"]["sg"]["+/m"] == pytest.approx(1 / 1.1)


@pytest.mark.parametrize(("trust", "het"), [(1, 1.0), (0, 0.18)])
def test_certain_trust_leaves_no_variable(trust: int, het: float) -> None:
    wanted = case(dam(**said(HET)), **LOT | {"trust": {"lot": trust}})
    assert both(wanted)["posterior"]["D"]["sg"]["+/m"] == pytest.approx(het)
    assert solve(read_case(wanted).population).worlds[0].aux_group == {}


def test_several_words_of_one_trust_on_one_animal_hold_together() -> None:
    loci = [{"id": "sg", "alleles": ["+", "m"]}, {"id": "qw", "alleles": ["+", "q"]}]
    words = [
        {"trust": "lot", "founder": {"sg": {"+/m": 1}}},
        {"trust": "lot", "founder_joint": [{"p": 1, "genotypes": {"qw": "+/q"}}]},
    ]
    ask = {"joint": [{"animal": "D", "genotypes": {"sg": "+/m", "qw": "+/q"}}]}
    wanted = case(dam(statements=words), loci=loci, trust={"lot": "1/4"}, ask=ask)
    assert both(wanted)["joint"] == [pytest.approx(0.25)]


# --- malformed, impossible ------------------------------------------------------------------------


def malformed(*animals: dict[str, Any], **parts: Any) -> str:
    answer = answer_case(case(*animals, **parts))
    assert answer["error"] == "malformed"
    return str(answer["message"])


def test_statements_that_contradict_the_contract_are_refused() -> None:
    assert malformed(dam(**said(HET, "lott")), trust={"lot": 1}) == (
        'animals[0].statements[0].trust: no trust has the id "lott"; the nearest is "lot"'
    )
    assert malformed(dam(), trust={"lot": 2}).startswith("trust.lot: 2 is not accepted")
    assert malformed(
        dam(), {"id": "S", "sex": "male"}, young(**said(HET)), trust={"lot": 1}
    ).startswith('animals[2].statements[0].founder: "K" has parents recorded')
    twice: dict[str, Any] = {"statements": [*said(HET)["statements"], *said(VISUAL)["statements"]]}
    assert malformed(dam(**twice), trust={"lot": 1}) == (
        'animals[0].statements[1]: locus "sg" is stated in another statement or in founder_joint '
        "too; expected it in one of them"
    )
    assert malformed(dam(statements=[{"founder": HET}]), trust={"lot": 1}) == (
        'animals[0].statements[0]: "trust" is missing; expected a statement: an object with trust '
        "and what was said"
    )


def test_case_is_written_as_it_was_read() -> None:
    words = [
        {
            "trust": "lot", "founder_joint": [{"p": "1/1", "genotypes": {"sg": "+/m"}}],
            "likelihood": {"sg": {"+/m": 1}},
        },
    ]  # fmt: skip
    read = read_case(case(dam(statements=words), trust={"lot": "2/3"}))
    assert read.population.trust == {"lot": Fraction(2, 3)}
    assert read_case(write_case(read)) == read


def test_a_word_that_surely_holds_can_be_in_a_conflict() -> None:
    wanted = case(dam(shows={"Saltgrass": True}, **said(HET)), trust={"lot": 1})
    answer = answer_case(wanted)
    assert answer["conflict"] == ["D.statements[0]", "D.shows.Saltgrass"]
    assert smallest_conflict(read_case(wanted).population)[0].about_founder


def test_doubt_in_the_words_resolves_what_contradicts_them() -> None:
    wanted = case(dam(shows={"Saltgrass": True}, **said(HET)), **LOT)
    assert both(wanted)["trust"] == {"lot": 0}


# --- what hangs together --------------------------------------------------------------------------


def lot_of(n: int, *, trust: float = 0.8, shows: bool = False) -> Population:
    """So many hets said to be of one lot, each with a mate and a clean young."""
    animals = []
    for i in range(n):
        words = (Statement("lot", {"sg": {"+/m": 1}}),)
        animals += [
            Animal(f"F{i}", "female", statements=words),
            Animal(f"M{i}", "male", founder={"sg": {"m/m": 1}}),
            Animal(f"K{i}", dam=f"F{i}", sire=f"M{i}", shows={"Saltgrass": Sighting(shows)}),
        ]
    return Population(
        (Locus("sg", ("+", "m")), Locus("qw", ("+", "q"))), tuple(animals), trust={"lot": trust},
        background={"sg": {"m": 0.1}}, traits=(Trait("Saltgrass", recessive_at=("sg",)),),
    )  # fmt: skip


def test_a_whole_lot_is_weighed_by_one_odds_ratio() -> None:
    """Clean young: 1/2 each of a het, 0.81 + 0.18/2 of anybody; a chain of n, not 2^n."""
    for n in (1, 5, 200):
        solved = solve(lot_of(n))
        odds = 4 * (0.5 / 0.9) ** n
        assert solved.trust("lot") == pytest.approx(odds / (1 + odds), abs=1e-12)


def test_words_on_one_animal_bear_on_another_of_its_lot() -> None:
    population = lot_of(3)
    part = relevant(population, "F0", "sg")
    assert {animal.id for animal in part.animals} >= {"F0", "F1", "F2", "K1", "K2"}
    assert coupled_loci(population, "sg") == {"sg"}
    assert solve(part).posterior("F0", "sg") == pytest.approx(
        solve(population).posterior("F0", "sg")
    )
    rows = contributions(population, "F0", "sg", ("+/m", "m/m"))
    weights = {str(row.record): row.weight for row in rows}
    assert weights["K1.shows.Saltgrass"] == pytest.approx(weights["K2.shows.Saltgrass"])
    assert (weights["K1.shows.Saltgrass"] or 0) < 0
    assert (weights["F0.statements[0]"] or 0) > 0


def test_words_apart_weigh_each_animal_alone() -> None:
    apart = lot_of(5).words_apart()
    solved = solve(apart)
    odds = 4 * 0.5 / 0.9
    assert solved.trust("lot\nF3") == pytest.approx(odds / (1 + odds))
    assert solved.trust("lot") == pytest.approx(0.8)


def test_a_founder_by_itself_has_its_own_word_alone() -> None:
    """Clean young of its lot lower the word's chance in the book, not the figure from the word."""
    population = lot_of(3)
    counted = (Counted(("F0",), (Count("M", "sg", frozenset("m")),)),)
    found = by_parents_alone(solve(population), population, ["F0", "F1", "F2"], counted)
    assert found is not None
    (row,) = (one for one in found.copies.rows() if one.animal == "F0")
    assert row.one == pytest.approx(0.8 + 0.2 * 0.18)


def test_a_book_with_trusts_grows_as_it_is_solved_anew() -> None:
    whole = lot_of(4)
    solved = solve(Population(
        whole.loci, whole.animals[:9], trust=whole.trust, background=whole.background,
        traits=whole.traits,
    ))  # fmt: skip
    grown = solved.changed(animals=whole.animals[9:])
    fresh = solve(whole)
    assert np.allclose(grown.posterior_table("sg")[2], fresh.posterior_table("sg")[2], atol=1e-12)
    assert grown.log_evidence == pytest.approx(fresh.log_evidence)
    assert answered(Subproblem(whole, ())) is not None


def test_shared_words_beyond_exact_are_refused_and_apart_are_answered(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A chain would hardly leave the words it began with, so that they are never sampled."""
    random = Random(4)
    animals = [
        Animal(f"F{i}", ("female", "male")[i % 2], statements=(Statement("lot", HET),))
        for i in range(12)
    ]
    for i in range(14):
        mother = animals[2 * random.randrange(6 + i // 2)]
        father = animals[2 * random.randrange(6 + i // 2) + 1]
        animals.append(Animal(f"K{i}", ("female", "male")[i % 2], mother.id, father.id))
    population = Population(
        (Locus("sg", ("+", "m")),), tuple(animals), trust={"lot": 0.5},
        background={"sg": {"m": 0.1}},
    )  # fmt: skip
    with pytest.raises(BeyondExact, match="words that share a trust tie too much together"):
        solve(population, limit=100)
    assert not solve(population.words_apart(), limit=100).exact
    whole = solve(population)
    monkeypatch.setattr(subproblems, "SHARED_CELLS", 100)
    counted = (Counted(tuple(a.id for a in animals), (Count("M", "sg", frozenset("m")),)),)
    marked = answered(Subproblem(population, counted))
    assert whole.exact
    assert marked is not None
    assert marked.apart
    small = answered(Subproblem(lot_of(2), ()))
    assert small is not None
    assert not small.apart


def test_words_under_many_trusts_on_one_animal() -> None:
    """Apart they are as many small tables; at linked loci every way together is one too many."""
    loci = tuple(Locus(f"l{i}", ("+", "m")) for i in range(30))
    words = tuple(Statement(f"t{i}", {f"l{i}": {"+/m": 1}}) for i in range(30))
    trust = {f"t{i}": 0.5 for i in range(30)}
    apart = Population(loci, (Animal("D", statements=words),), trust=trust)
    assert solve(apart).posterior("D", "l7")["+/m"] == pytest.approx(0.5)
    rows = tuple(
        FounderRow(Fraction(1, 2), {x.id: key for x in loci[15:]}) for key in ("+/+", "+/m")
    )
    several = Animal("D", statements=(*words[:15], Statement("t15", {}, rows)))
    assert solve(Population(loci, (several,), trust=trust)).trust("t15") == pytest.approx(0.5)


def test_too_many_ways_for_the_words_on_one_animal_are_beyond() -> None:
    """Words that tie linked loci in a chain hold or not in 2^24 ways together."""
    loci = tuple(Locus(f"l{i}", ("+", "m")) for i in range(50))
    pairs = tuple(Linkage((f"l{i}", f"l{i + 1}"), (Interval(0.1, 0.1),)) for i in range(0, 50, 2))
    words = tuple(
        Statement(f"t{i}", {}, (FounderRow(1, {f"l{2 * i + 1}": "+/m", f"l{2 * i + 2}": "+/m"}),))
        for i in range(24)
    )
    trust = {f"t{i}": 0.5 for i in range(24)}
    book = Population(loci, (Animal("D", statements=words),), linkage=pairs, trust=trust)
    with pytest.raises(BeyondExact):
        solve(book)
