"""Many forecasts at once are those that are asked one by one, here and through a packet."""

from dataclasses import replace

import numpy as np
import pytest

import genetics
from genetics import ForecastQuestion, Scenario
from genetics.errors import ImpossibleEvidence
from genetics.population import Animal, Goal, Locus, Population, Trait
from genetics.subproblems import AnotherEngine

POSSIBLE = {"sg": {"+/+": 1 / 3, "+/har": 2 / 3}}


def pair(**founder: object) -> Population:
    return Population(
        loci=(Locus("sg", ("+", "har")),),
        traits=(Trait("Saltgrass", recessive_at=("sg",)),),
        animals=(
            Animal("F", "female", founder=POSSIBLE), Animal("M", "male", founder=POSSIBLE),
            Animal("N", "male", founder=POSSIBLE),
        ),
    )  # fmt: skip


def question(*names: str, pairs: int = 1) -> ForecastQuestion:
    return ForecastQuestion(
        goal=Goal(shows={"Saltgrass": True}), animals=dict.fromkeys(names, 3), seasons=4,
        clutch=((4, 1.0),), wanted=1, mature_female=3, mature_male=2, lays=1.0, lives=1.0,
        pairs=pairs, matings=2, places=4, runs=400, seed=7,
    )  # fmt: skip


def test_forecasts_are_those_of_each_alone_here_and_packed() -> None:
    one, other = pair(), replace(pair(), animals=pair().animals[:2])
    asked = [
        Scenario(one, question("F", "M")), Scenario(one, question("F", "M", "N", pairs=2)),
        Scenario(other, question("F", "M")), Scenario(one, question("F", "N")),
    ]  # fmt: skip
    alone = [genetics.forecast(genetics.solve(each.population), each.question) for each in asked]
    packed = genetics.unpack_forecasts(genetics.forecast_packet(genetics.pack(asked)))
    for found in (list(genetics.forecasts(asked)), packed):
        assert found == alone
        for here, there in zip(alone, found, strict=True):
            assert there is not None
            assert (here.by_run is None) == (there.by_run is None)
            if here.by_run is not None and there.by_run is not None:
                assert np.array_equal(here.by_run, there.by_run)
    # One at least of the two must carry it: its young can be bred back to it.
    reached = [each.reached[-1].p for each in alone]
    assert 0 < reached[0] < 8 / 9
    assert reached[0] < reached[1]


def test_another_engine_forecasts_nothing() -> None:
    packet = genetics.pack([Scenario(pair(), question("F", "M"))])
    with pytest.raises(AnotherEngine):
        genetics.forecast_packet(packet, "another")


def test_families_that_cannot_be_are_refused() -> None:
    one = pair()
    seen = one.animals[0]._replace(likelihood={"sg": {"har/har": 1}})
    impossible = replace(one, animals=(seen, *one.animals[1:]))
    with pytest.raises(ImpossibleEvidence):
        list(genetics.forecasts([Scenario(impossible, question("F", "M"))]))
