"""What must hold of every forecast, and of the keeper in it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from genetics import Animal, BeyondExact, compiled, solve
from genetics.arrays import Floats2, Ints2
from genetics.kernels import forecast as kernels
from genetics.kernels import tree
from genetics.network import build_network
from genetics.planning import Run, outputs, plan
from genetics.plans.forecast import forecast, simulate
from genetics.plans.forecast import genome as genomes
from genetics.plans.forecast import hand as hands
from genetics.plans.forecast.random_numbers import Stream
from genetics.plans.forecast.simulate import Played, play
from genetics.solving import groups_of
from tests.genetics.plans.forecasts import (
    asking,
    book,
    chances,
    close,
    founder,
    laid_out,
    simulation,
    told,
)
from tests.genetics.twin_genome import Case

HET_A, HET_B = {"+/+": "1/3", "+/a": "2/3"}, {"+/+": "1/3", "+/b": "2/3"}
BOTH = {"shows": {"A": True, "B": True}}
VISUALS = book(
    founder("F", "female", a="a/a", b="+/+"), founder("M", "male", a="+/+", b="b/b"), genes="ab"
)
POSSIBLE = book(
    founder("F", "female", a=HET_A, b=HET_B), founder("G", "female", a=HET_A, b=HET_B),
    founder("M", "male", a=HET_A, b="+/b"), founder("N", "male", a="+/a", b=HET_B), genes="ab",
)  # fmt: skip
PROJECT: dict[str, Any] = {
    "goal": BOTH, "seasons": 8, "clutch": {"4": 0.5, "8": 0.5}, "lays": 0.85, "lives": 0.95,
    "pairs": 2, "matings": 2, "places": 6, "runs": 3000,
}  # fmt: skip


@pytest.mark.parametrize("case", [VISUALS, POSSIBLE], ids=["visuals", "possible"])
def test_chances_never_fall_and_the_answer_is_the_same_again(case: Case) -> None:
    found = told(case, **PROJECT)
    steps = np.diff([0.0, *chances(found)])
    assert (steps >= 0).all()
    assert steps.tolist() == pytest.approx(found.first, abs=1e-12)
    assert [n / found.runs for n in found.counts] == pytest.approx(found.first, abs=1e-12)
    assert told(case, **PROJECT) == found
    assert told(case, **{**PROJECT, "seed": 8}) != found


def test_a_shorter_outlook_is_the_beginning_of_a_longer_one() -> None:
    longer = told(POSSIBLE, **PROJECT)
    assert told(POSSIBLE, **{**PROJECT, "seasons": 4}).reached == longer.reached[:4]


def test_the_seasons_that_keepers_ask_for() -> None:
    found = told(VISUALS, **PROJECT)
    for share, season in ((0.1, found.tenth), (0.5, found.median), (0.9, found.ninetieth)):
        reached = [s for s, p in enumerate(chances(found), 1) if p >= share]
        assert season == (reached[0] if reached else None)
    assert found.as_json()["reached"][3] == {
        "p": found.reached[3].p, "se": found.reached[3].se,
    }  # fmt: skip
    assert found.as_json().keys() == {"reached", "median", "tenth", "ninetieth", "exact"}


def test_nothing_is_reached_before_young_of_young_hatch() -> None:
    found = told(VISUALS, **PROJECT)
    assert chances(found)[:3] == [0, 0, 0]
    assert chances(found)[3] > 0.2


@pytest.mark.parametrize(
    ("worse", "better"),
    [
        ({"lives": 0.7}, {"lives": 1}), ({"lays": 0.4}, {"lays": 1}), ({"pairs": 1}, {"pairs": 3}),
        ({"places": 2}, {"places": 10}), ({"clutch": {"3": 1}}, {"clutch": {"12": 1}}),
        ({"wanted": 3}, {"wanted": 1}), ({"clutches": 1}, {"clutches": 2}),
        ({"mature": {"female": 3}}, {"mature": {"female": 2, "male": 2}}),
    ],
    ids=lambda rules: next(iter(rules)),
)  # fmt: skip
def test_what_helps_helps(worse: dict[str, Any], better: dict[str, Any]) -> None:
    low, high = (told(VISUALS, **{**PROJECT, **rules}) for rules in (worse, better))
    assert sum(chances(high)) > sum(chances(low)) + 0.1


def test_scenarios_of_one_seed_share_their_luck() -> None:
    hand, question, _ = laid_out(VISUALS, **PROJECT)
    one = simulation(VISUALS, **PROJECT).reached
    other = simulation(VISUALS, **{**PROJECT, "lays": 0.9}).reached
    stranger = simulation(VISUALS, **{**PROJECT, "lays": 0.9, "seed": 1}).reached
    assert len(one) == question.runs == len(hand.drawn(question.runs, Stream.of(7))[0])
    assert (one != other).mean() < 0.5 * (one != stranger).mean()


def swapped(genotypes: Ints2, one: int, other: int) -> Ints2:
    """With what two animals carry exchanged."""
    found = genotypes.copy()
    found[:, [one, other]] = genotypes[:, [other, one]]
    return found


def decided_alike(one: Played, other: Played) -> int:
    """Compare decisions wherever the same was seen before; how often that was."""
    alike = (one.trails[:, :, 0] == other.trails[:, :, 0]).cumprod(axis=1).astype(bool)
    assert (one.trails[:, :, 1] == other.trails[:, :, 1])[alike].all()
    return int(alike[:, 1:].sum())


@pytest.mark.parametrize("pair", [(0, 1), (2, 3)], ids=["dams", "sires"])
def test_hidden_genotypes_of_equal_looks_swapped_change_no_decision(pair: tuple[int, int]) -> None:
    case = book(
        *(founder(name, "female", a=HET_A, b=HET_B) for name in "FG"),
        *(founder(name, "male", a=HET_A, b=HET_B) for name in "MN"), genes="ab",
    )  # fmt: skip
    hand, question, stream = laid_out(case, **{**PROJECT, "places": 5})
    genotypes, sexes = hand.drawn(question.runs, stream)
    other = swapped(genotypes, *pair)
    differ = (genotypes != other).any(axis=1)
    assert differ.sum() > 1000
    games = [play(hand, question, stream, (g, sexes), True) for g in (genotypes, other)]
    assert decided_alike(*games) > question.runs
    # And the keeper does decide by what is seen: else the same would be decided throughout.
    assert (games[0].trails[:, -1, 1] != games[1].trails[:, -1, 1])[differ].any()


def test_decisions_rest_on_nothing_that_cannot_be_seen() -> None:
    """Any other truth under the same looks: all that is decided is the same until looks differ."""
    hand, question, stream = laid_out(POSSIBLE, **PROJECT)
    truth, sexes = hand.drawn(question.runs, stream)
    other = hand.drawn(question.runs, Stream.of(99))[0]
    alike = hand.genome.look[truth] == hand.genome.look[other]
    other = np.where(alike, other, truth)
    assert (truth != other).any(axis=1).sum() > 1000
    games = [play(hand, question, stream, (g, sexes), True) for g in (truth, other)]
    assert decided_alike(*games) > question.runs / 2


def test_a_dam_that_proves_barren_of_the_trait_is_replaced() -> None:
    # Two possible carriers and a visual sire: eight clean hatchlings speak against the first.
    case = book(
        founder("F", "female", a=HET_A), founder("G", "female", a=HET_A),
        founder("M", "male", a="a/a"),
    )  # fmt: skip
    found = told(case, clutch={"8": 1}, seasons=3, runs=20_000)
    one = 2 / 3 * (1 - 0.5**8)
    close(found, [one, 1 - (1 - one) ** 2, 1 - (1 - one) ** 2], more=0.002)


def test_compiled_and_interpreted_are_one(monkeypatch: pytest.MonkeyPatch) -> None:
    rules = {**PROJECT, "runs": 40, "seasons": 6}
    monkeypatch.setattr(simulate, "loops", lambda module, work: compiled._compile_once(module))
    fast = simulation(POSSIBLE, True, **rules)
    monkeypatch.setattr(simulate, "loops", lambda module, work: module)
    slow = simulation(POSSIBLE, True, **rules)
    assert (fast.reached == slow.reached).all() and (fast.trails == slow.trails).all()
    assert fast.kinds == slow.kinds


def test_kinds_beyond_the_room_for_them_bend_no_chance(monkeypatch: pytest.MonkeyPatch) -> None:
    rules = {**PROJECT, "seasons": 2, "runs": 20_000, "goal": {"shows": {"A": True}}}
    plenty = told(POSSIBLE, **rules)
    monkeypatch.setattr(simulate, "MOST_KINDS", 6)
    monkeypatch.setattr(simulate, "NOTED", 64)
    few = told(POSSIBLE, **rules)
    # In the first season nobody has learned anything; in the second they know a little less.
    assert few.reached[0] == plenty.reached[0]
    assert abs(few.reached[1].p - plenty.reached[1].p) < 0.05


def test_drawn_through_the_tree_is_as_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    case = book(
        founder("X", "female", a=HET_A), founder("Y", "male", a=HET_A),
        {"id": "F", "sex": "female", "dam": "X", "sire": "Y"},
        {"id": "M", "sex": "male", "dam": "X", "sire": "Y"},
    )  # fmt: skip
    rules: dict[str, Any] = {"clutch": {"3": 1}, "seasons": 2, "runs": 20_000}
    exact = told(case, animals={"F": 3, "M": 3}, **rules)
    assert exact.exact
    monkeypatch.setattr(hands, "MOST_LISTED", 1)
    drawn = told(case, animals={"F": 3, "M": 3}, **rules)
    assert not drawn.exact
    close(drawn, chances(exact))


def test_messages_go_up_once_for_all_that_is_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hands, "MOST_LISTED", 0)
    monkeypatch.setattr(compiled, "WORTH_COMPILING", np.inf)
    monkeypatch.setattr(compiled, "_loaded", {})
    monkeypatch.setitem(compiled._state, "always", False)
    collected = []
    collect = tree.collect

    def counted(*given: Any) -> None:
        collected.append(1)
        collect(*given)

    monkeypatch.setattr(tree, "collect", counted)
    often = []
    for runs in (1, 50):
        collected.clear()
        hand, question, _ = laid_out(POSSIBLE, **{**PROJECT, "runs": runs})
        often.append(len(collected))
        drawn, _ = hand.drawn(question.runs, Stream.of(1))
        assert len(drawn) == runs
    assert often[0] == often[1] > 0
    assert len(np.unique(drawn, axis=0)) > 10


def test_what_is_drawn_at_once_is_what_is_drawn_one_by_one() -> None:
    model = solve(asking(POSSIBLE)[0].population).worlds[0].model
    members, factors = groups_of(model)[0]
    net = build_network(model, members, factors, [])
    run = Run(net, plan(net, 1e6), outputs(net))
    uniform = Stream.of(3).table(20, len(run.plan.parent))
    open_ = np.full(net.size, -1, dtype=np.int64)

    def drawn(numbers: Floats2) -> Ints2:
        rows, flaw = run.drawn(net.data, np.zeros(run.wanted[2][-1]), open_, numbers)
        assert not flaw.any()
        return rows

    alone = [drawn(uniform[row : row + 1])[0].tolist() for row in range(20)]
    assert drawn(uniform).tolist() == alone
    assert len({tuple(one) for one in alone}) > 3


def test_a_book_too_large_for_exact_inference_has_wider_bars() -> None:
    case = book(
        *(founder(name, "female", a=HET_A) for name in "XY"), founder("Z", "male", a=HET_A),
        *({"id": f"K{i}", "dam": "XY"[i // 2 % 2], "sire": "Z", "sex": ("female", "male")[i % 2]}
          for i in range(6)),
        {"id": "F", "sex": "female", "dam": "K0", "sire": "K1"},
        {"id": "M", "sex": "male", "dam": "K2", "sire": "K3"},
    )  # fmt: skip
    rules: dict[str, Any] = {"animals": {"F": 3, "M": 3}, "clutch": {"3": 1}, "seasons": 3}
    solved, question = asking(case, **rules)
    exact = forecast(solved, question)
    assert exact.exact
    small = solve(solved.population, limit=20.0)
    assert not small.exact
    found = forecast(small, question)
    assert not found.exact
    close(found, chances(exact))
    simple = (found.reached[2].p * (1 - found.reached[2].p) / question.runs) ** 0.5
    assert found.reached[2].se > 1.2 * simple


def test_too_many_genotypes_are_refused_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(genomes, "MOST_GENOTYPES", 8)
    with pytest.raises(BeyondExact) as refused:
        told(POSSIBLE, goal=BOTH, seasons=9)
    assert str(refused.value) == (
        "the goal turns on 9 genotypes of 2 loci, more than the 8 that a forecast tells apart"
    )


@pytest.mark.parametrize(
    "rules",
    [{"animals": {}}, {"pairs": 0}, {"matings": 0}, {"clutches": 0}, {"lays": 0}],
    ids=lambda rules: next(iter(rules)),
)
def test_where_nobody_breeds_nothing_is_reached_for_certain(rules: dict[str, Any]) -> None:
    found = told(POSSIBLE, **{**PROJECT, **rules})
    assert found.exact and chances(found) == [0] * 8


@pytest.mark.parametrize("rules", [{"places": 0}, {"places": 1}, {"lives": 0}])
def test_without_places_or_life_there_is_one_season(rules: dict[str, Any]) -> None:
    found = told(POSSIBLE, **{**PROJECT, **rules})
    assert found.reached[0].p > 0
    assert len(set(chances(found))) == 1


def test_more_wanted_than_can_hatch() -> None:
    assert set(chances(told(POSSIBLE, **{**PROJECT, "wanted": 10**6}))) == {0}


def test_random_numbers_are_those_of_the_loops() -> None:
    stream = Stream.of(5).under("x")
    expected = [kernels.uniform(stream.under("y").key, i) for i in range(5)]
    assert stream.numbers("y", 5).tolist() == expected
    table = stream.table(4, 3)
    assert table[2, 1] == kernels.uniform(kernels.stir(stream.key, 2), 1)
    many = Stream.of(2**40 + 1).numbers("z", 40_000)
    assert abs(many.mean() - 0.5) < 4 * 12**-0.5 / 200
    assert abs(np.corrcoef(many[:-1], many[1:])[0, 1]) < 0.02


def test_a_grown_book_is_asked_as_it_is_now() -> None:
    solved, question = asking(VISUALS, **{**PROJECT, "seasons": 5})
    grown = solved.changed(animals=[Animal("K", sex="female", dam="F", sire="M")])
    assert forecast(grown, question) == forecast(solved, question)
