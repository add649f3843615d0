"""Loci that begin with an animal: by hand, in plans, and what is refused of them."""

from __future__ import annotations

from typing import Any

import pytest

from genetics.casefile import answer_case, read_case, write_case
from genetics.copies import Count, Counted
from genetics.errors import MalformedCase
from genetics.explain import contributions
from genetics.parents_alone import by_parents_alone
from genetics.plans.forecast import forecast
from genetics.plans.questions import ForecastQuestion
from genetics.population import Animal, Goal
from genetics.relevance import relevant
from genetics.solving import solve
from tests.genetics.plans.forecasts import chances
from tests.genetics.plans.twin_routes import twin_routes
from tests.genetics.small_cases import case, dam, sire, young
from tests.genetics.test_engine_twin import comparable, differences
from tests.genetics.twin import is_possible, twin
from tests.genetics.twin_genome import Case

TWO: dict[str, Any] = {
    "loci": [{"id": "a", "alleles": ["+", "a"]}, {"id": "b", "alleles": ["+", "b"]}],
    "traits": [{"id": "A", "recessive_at": ["a"]}, {"id": "B", "recessive_at": ["b"]}],
}
HAS_A = {"a": {"a/a": 1}, "b": {"+/+": 1}}
BOTH = {"shows": {"A": True, "B": True}}


def mutant(**more: Any) -> Case:
    """K, out of D that shows A by a normal S: het A by its dam, and B began with it."""
    return case(
        dam(HAS_A), sire({"a": {"+/+": 1}, "b": {"+/+": 1}}),
        young(sex="male", begins=["b"], founder={"b": {"+/b": 1}}),
        young("L", sex="female"),
        {"id": "H", "sex": "female", "founder": {"a": {"+/a": 1}, "b": {"+/b": 1}}},
        **{**TWO, **more},
    )  # fmt: skip


def both(wanted: Case) -> dict[str, Any]:
    """The engine's answer, which the twin gives too."""
    answer: dict[str, Any] = answer_case(wanted)
    assert differences(comparable(answer), comparable(twin(wanted))) == []
    return answer


def test_it_has_one_locus_of_its_own_and_the_other_of_its_parents() -> None:
    found = both(mutant())["posterior"]
    assert found["K"]["a"]["+/a"] == found["K"]["b"]["+/b"] == 1
    # What began with K tells nothing of its dam, nor of its sister.
    assert found["D"]["b"]["+/+"] == found["L"]["b"]["+/+"] == 1


def test_without_a_word_it_is_drawn_from_the_background_there() -> None:
    wanted = mutant(background={"b": {"b": 0.1}})
    del wanted["animals"][2]["founder"]
    assert both(wanted)["posterior"]["K"]["b"]["+/b"] == pytest.approx(0.18)


def test_what_it_breeds_is_by_both() -> None:
    question = {"dam": "H", "sire": "K", "eggs": [8], "goal": BOTH}
    answer = both(mutant() | {"ask": {"offspring": [question]}})["offspring"][0]
    assert answer["goal"] == pytest.approx(1 / 16)
    assert answer["at_least_one"]["8"] == pytest.approx(1 - (15 / 16) ** 8)


def test_forecasts_follow_it() -> None:
    solved = solve(read_case(mutant()).population)
    question = ForecastQuestion(Goal(shows=BOTH["shows"]), {"H": 3, "K": 3}, 2, ((8, 1),))
    found = forecast(solved, question)
    assert found.exact
    assert chances(found) == pytest.approx([1 - (15 / 16) ** (8 * n) for n in (1, 2)], abs=1e-12)


def test_routes_are_those_of_the_twin() -> None:
    wanted = mutant()
    question = {"goal": BOTH, "animals": ["D", "K", "L"], "generations": 2}
    found = answer_case({**wanted, "ask": {"routes": [question]}})["routes"][0]
    plain = twin_routes(wanted, question)[:10]
    # K by its dam or its sister gives B to some, and A to all or some; then one with another.
    assert found and len(found) == len(plain)
    for one, other in zip(found, plain, strict=True):
        assert one["seasons"] == pytest.approx(other["seasons"], abs=1e-9)


def test_dropped_parents_leave_what_began() -> None:
    wanted = mutant()
    wanted["animals"][2]["likelihood"] = {"a": {"a/a": 1}}
    answer = answer_case(wanted)
    assert set(answer["conflict"]) == {
        "K.likelihood.a", "K.parents", "S.founder.a",
    }  # fmt: skip
    assert is_possible(wanted, ["K.parents"])
    wanted["animals"][2]["likelihood"] = {"b": {"b/b": 1}}
    assert set(answer_case(wanted)["conflict"]) == {"K.likelihood.b", "K.founder.b"}
    assert not is_possible(wanted, ["K.parents"])


def test_it_is_explained_by_its_own_word() -> None:
    population = read_case(mutant()).population
    word, *others = contributions(population, "K", "b", ["+/b"])
    assert (str(word.record), word.without) == ("K.founder.b", 0.0)
    assert all(one.weight == 0 for one in others)
    by_name = {one.id: one for one in relevant(population, "K", "a").animals}
    assert by_name["K"].begins == ()


def test_by_the_parents_alone_it_has_what_began_all_the_same() -> None:
    population = read_case(mutant()).population
    names = ("K", "L")
    asked = [Counted(names, tuple(Count(x, x, frozenset(x)) for x in "ab"))]
    alone = by_parents_alone(solve(population), population, names, asked)
    assert alone is not None
    found = {(row.animal, row.label): row.one for row in alone.copies.rows()}
    assert found == {("K", "a"): 1, ("K", "b"): 1, ("L", "a"): 1}


def test_books_that_grow_are_solved_anew() -> None:
    solved = solve(read_case(mutant()).population)
    grown = solved.changed(animals=[Animal("N", dam="H", sire="K", begins=("a",))])
    assert grown.posterior("N", "a")["+/+"] == 1
    assert grown.posterior("N", "b")["b/b"] == pytest.approx(1 / 4)


def test_case_files_keep_it() -> None:
    wanted = read_case(mutant())
    assert read_case(write_case(wanted)) == wanted


LINKED = {"linkage": [{"loci": ["a", "b"], "recombination": [{"female": 0.1, "male": 0.1}]}]}
LINES = {"same_locus": [{"loci": ["a", "b"], "prior": 0.5}]}


@pytest.mark.parametrize("tied", [LINKED, LINES])
def test_what_belongs_together_begins_together(tied: dict[str, Any]) -> None:
    with pytest.raises(MalformedCase, match=r'begins: "a" of "a", "b" is missing; expected all'):
        read_case(mutant(**tied))


def test_a_word_is_refused_where_nothing_begins() -> None:
    wanted = mutant()
    wanted["animals"][2]["founder"] = {"a": {"+/a": 1}}
    with pytest.raises(MalformedCase, match="or of loci that begin with it"):
        read_case(wanted)
    wanted["animals"][2]["begins"] = ["c"]
    with pytest.raises(MalformedCase, match='no locus has the id "c"'):
        read_case(wanted)
