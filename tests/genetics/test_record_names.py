"""Every record has a name of its own, whatever animals and clutches are called."""

from random import Random

import pytest

from genetics.conflict import kept_only, smallest_conflict
from genetics.explain import all_but, known_only
from genetics.population import (
    Animal,
    Clutch,
    Couple,
    Locus,
    Population,
    Sighting,
    TallyLine,
    Trait,
)
from genetics.record_names import RecordName, records, unused_id

LOCI = (Locus("sg", ("+", "har")),)
TRAITS = (Trait("Saltgrass", recessive_at=("sg",)),)
NORMAL, CARRIER = {"sg": {"+/+": 1}}, {"sg": {"+/har": 1}}
SEEN = {"Saltgrass": Sighting(seen=True)}


def book(*animals: Animal, clutches: tuple[Clutch, ...] = ()) -> Population:
    return Population(loci=LOCI, traits=TRAITS, animals=animals, clutches=clutches)


@pytest.mark.parametrize(
    ("name", "written"),
    [
        (RecordName("animal", "K1", "parents"), "K1.parents"),
        (RecordName("clutch", "C1", "parents"), "C1.parents"),
        (RecordName("animal", "M1", "founder", "sg"), "M1.founder.sg"),
        (RecordName("animal", "M1", "founder_joint"), "M1.founder_joint"),
        (RecordName("animal", "K1", "shows", "Saltgrass"), "K1.shows.Saltgrass"),
        (RecordName("animal", "K1", "likelihood", "sg"), "K1.likelihood.sg"),
        (RecordName("clutch", "C1", "tally", line=3), "C1.tally[3]"),
    ],
)
def test_names_are_written_as_the_contract_says(name: RecordName, written: str) -> None:
    assert str(name) == written
    assert f"{name}" == written


def test_records_that_are_written_alike_are_told_apart() -> None:
    # The trait "a.shows.b" of K and the trait "b" of "K.shows.a" are written alike.
    animals = (
        Animal("K", shows={"a.shows.b": Sighting(seen=False)}),
        Animal("K.shows.a", shows={"b": Sighting(seen=False)}),
    )
    traits = (Trait("b", recessive_at=("sg",)), Trait("a.shows.b", recessive_at=("sg",)))
    names = records(Population(loci=LOCI, traits=traits, animals=animals))

    assert len(set(names)) == 2
    assert len(set(map(str, names))) == 1


def test_a_conflict_names_whose_parents_they_are() -> None:
    clutch = Clutch("C1", (Couple("F1", "M1"),), tally=(TallyLine(1, shows=SEEN),))
    founders = (Animal("F1", "female", founder=NORMAL), Animal("M1", "male", founder=CARRIER))

    assert smallest_conflict(book(*founders, clutches=(clutch,))) == (
        RecordName("clutch", "C1", "parents"),
        RecordName("animal", "F1", "founder", "sg"),
        RecordName("clutch", "C1", "tally", line=0),
    )


def test_stand_ins_take_no_id_that_is_used() -> None:
    clutch = Clutch("C", (Couple("F", None),), tally=(TallyLine(1, shows=SEEN),))
    population = book(
        Animal("F", "female"),
        Animal("C.tally[0]", shows=SEEN),
        Animal("K", dam="F"),
        Animal("K.parents"),
        clutches=(clutch,),
    )
    tally = RecordName("clutch", "C", "tally", line=0)

    loose = kept_only(population, {tally})
    assert [animal.id for animal in loose.animals] == [
        "C.tally[0]'", "F", "C.tally[0]", "K", "K.parents",
    ]  # fmt: skip
    unknown = known_only(population, set())
    assert [one.id for one in unknown.clutches] == ["C", "K.parents'"]


def test_unused_id_is_that_of_no_animal_and_no_clutch() -> None:
    population = book(Animal("K"), clutches=(Clutch("K'", (Couple(None, None),)),))

    assert unused_id(population, "K") == "K''"
    assert unused_id(population, "L") == "L"


def test_whoever_forgets_one_record_has_all_others_as_they_were() -> None:
    parents = Animal("F", "female", founder=NORMAL), Animal("M", "male", founder=CARRIER)
    clutch = Clutch("C1", (Couple("F", "M"),), tally=(TallyLine(2, shows=SEEN),))
    young = Animal("K1", clutch="C1", shows=SEEN), Animal("K2", dam="F", sire="M", shows=SEEN)
    population = book(*parents, *young, clutches=(clutch,))
    names = records(population)

    for name in names:
        left = all_but(population, {name})
        assert left == known_only(population, {*names} - {name})
        assert (*left.animals, *left.clutches) != (*population.animals, *population.clutches)
        for one, was in zip(left.animals, population.animals, strict=True):
            assert one is was or one.id == name.owner
    assert all_but(population, ()) == population


@pytest.mark.parametrize("seed", range(20))
def test_the_same_conflict_is_found_among_any_records_that_hold_it(seed: int) -> None:
    draw = Random(seed)
    parents = Animal("F", "female", founder=NORMAL), Animal("M", "male", founder=NORMAL)
    looks = [Sighting(seen=draw.random() < 0.6) for _ in range(6)]
    young = (
        Animal(f"K{n}", dam="F", sire="M", shows={"Saltgrass": look})
        for n, look in enumerate(looks)
    )
    population = book(*parents, *young)
    names = records(population)
    found = smallest_conflict(population)
    others = [name for name in names if name not in found]

    assert bool(found) == any(look.seen for look in looks)
    for _ in range(5):
        among = {*found, *draw.sample(others, draw.randint(0, len(others)))}
        assert smallest_conflict(population, among) == found
    assert smallest_conflict(population, found[:-1]) == ()
