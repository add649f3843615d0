"""The columns of a population say what its records say one by one."""

from __future__ import annotations

from genetics.columns import Columns
from genetics.population import Animal, Clutch, Couple, FounderRow, Locus, Population, Sighting

SEEN = Sighting(True)
LOCUS = Locus("qw", ("+", "qw"))


def columns(*animals: Animal, clutches: tuple[Clutch, ...] = ()) -> Columns:
    """The columns of records that need not be sound."""
    population = object.__new__(Population)
    object.__setattr__(population, "animals", animals)
    object.__setattr__(population, "clutches", clutches)
    return Columns(population)


def test_positions_stand_for_ids() -> None:
    found = columns(
        Animal("D"),
        Animal("S"),
        Animal("K", clutch="C2"),
        Animal("L", dam="D"),
        clutches=(
            Clutch("C1", (Couple("D", "S", 0.5), Couple(None, "S", 0.5)), stated_candidates=True),
            Clutch("C2", (Couple("D", None),)),
        ),
    )
    assert found.clutch == [-1, -1, 1, -1]
    assert found.dam == [-1, -1, -1, 0]
    assert found.sire == [-1, -1, -1, -1]
    assert found.couple_dam == [0, -1, 0]
    assert found.couple_sire == [1, 1, -1]
    assert found.couples == [2, 1]
    assert found.first_couple == [0, 2]
    assert found.parents_known
    assert found.couples_known


def test_unknown_ids_are_told_from_none() -> None:
    assert not columns(Animal("K", dam="nobody")).parents_known
    assert not columns(Animal("K", sire="")).parents_known
    assert not columns(Animal("K", clutch="none")).parents_known
    unknown = columns(Animal("D"), clutches=(Clutch("C", (Couple("D", "nobody"),)),))
    assert unknown.parents_known
    assert not unknown.couples_known


def test_sex_is_told_by_use() -> None:
    found = columns(
        Animal("D"),
        Animal("S"),
        Animal("M", sex="male"),
        Animal("U"),
        Animal("K", dam="D"),
        clutches=(Clutch("C", (Couple(None, "S"),)),),
    )
    assert found.recorded_sex == ["unknown", "unknown", "male", "unknown", "unknown"]
    assert found.sex == ("female", "male", "male", "unknown", "unknown")


def test_order_of_parents_and_young() -> None:
    clutches = (Clutch("C", (Couple("D", None, 0.5), Couple("E", None, 0.5))),)
    dams = Animal("D"), Animal("E")
    assert columns(*dams, Animal("K", clutch="C"), clutches=clutches).in_order
    assert not columns(
        Animal("D"), Animal("K", clutch="C"), Animal("E"), clutches=clutches
    ).in_order
    assert columns(Animal("D"), Animal("K", dam="D")).in_order
    assert not columns(Animal("K", dam="D"), Animal("D")).in_order
    assert not columns(Animal("K", dam="K")).in_order


def test_animals_that_look_alike_are_found_by_what_was_seen() -> None:
    shared = {"Saltgrass": SEEN}
    found = columns(
        Animal("A", shows=shared),
        Animal("B"),
        Animal("C", shows={"Saltgrass": SEEN}),
        Animal("D", shows={"Saltgrass": SEEN, "Quillwort": SEEN}),
        Animal("E", shows={}),
        Animal("F", shows=shared),
    )
    assert found.alike == [[0, 2, 5], [3]]


def test_statements_and_tests_are_found() -> None:
    row = FounderRow(1, {"qw": "+/+"})
    found = columns(
        Animal("A", founder={"qw": {"+/+": 1}}),
        Animal("B", founder={}),
        Animal("C", founder_joint=(row,)),
        Animal("D", likelihood={"qw": {"+/qw": 1}}),
    )
    assert found.stated == [0, 2]
    assert found.tested == [3]


def test_no_records_make_empty_columns() -> None:
    found = columns()
    assert (found.ids, found.alike, found.stated, found.tested) == ([], [], [], [])
    assert found.in_order
    assert found.sex == ()


def test_population_shares_its_columns() -> None:
    population = Population(loci=(LOCUS,), animals=(Animal("D", sex="female"), Animal("U")))
    assert population.columns is population.columns
    assert population.animal_index == {"D": 0, "U": 1}
    assert population.sexes == ("female", "unknown")
