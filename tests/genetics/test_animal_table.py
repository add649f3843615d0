"""A table of columns stands for the tuple of its records in everything."""

from __future__ import annotations

from typing import Any, NoReturn

import pytest

from genetics import (
    Animal,
    AnimalTable,
    Case,
    Clutch,
    Couple,
    FounderRow,
    Locus,
    MalformedCase,
    Population,
    Sighting,
    TallyLine,
    Trait,
    answer_case,
    read_case,
    solve,
    write_case,
)
from genetics.conflict import smallest_conflict

LOCI = (Locus("sg", ("+", "sg")), Locus("qw", ("+", "qw")))
TRAITS = (Trait("Saltgrass", recessive_at=("sg",)), Trait("Quillwort", recessive_at=("qw",)))
SEEN, UNSEEN = {"Saltgrass": Sighting(True)}, {"Saltgrass": Sighting(False)}
HET = {"sg": {"+/sg": 1}}
MAYBE = {"sg": {"+/+": 0.5, "+/sg": 0.5}}
RECORDS = (
    Animal("D", "female", founder=MAYBE),
    Animal("S", founder=MAYBE, founder_joint=(FounderRow(1, {"qw": "+/qw"}),)),
    Animal("M", "male", founder=HET),
    Animal("K1", clutch="C1", shows=SEEN),
    Animal("K2", "female", clutch="C1", shows=UNSEEN),
    Animal("T", "female", dam="K2", sire="M", likelihood={"qw": {"+/+": 0.2, "+/qw": 0.8}}),
)
CLUTCHES = (Clutch("C1", (Couple("D", "S"),), tally=(TallyLine(3, shows=UNSEEN),)),)


def table(records: tuple[Animal, ...] = RECORDS, **changed: Any) -> AnimalTable:
    """These records as columns, some of them changed."""
    names = Animal._fields
    columns = {name: [getattr(one, name) for one in records] for name in names}
    return AnimalTable(**(columns | changed))


def book(animals: tuple[Animal, ...] | AnimalTable) -> Population:
    return Population(
        loci=LOCI,
        traits=TRAITS,
        animals=animals,
        clutches=CLUTCHES,
        sex_determination="XY",
        background={"sg": {"sg": 0.1}, "qw": {"qw": 0.1}},
    )


def test_table_is_the_sequence_of_its_records() -> None:
    made = table()
    assert len(made) == 6
    assert [made[i] for i in range(-6, 6)] == [*RECORDS, *RECORDS]
    assert made[1:4] == RECORDS[1:4]
    assert tuple(made) == RECORDS
    assert made[1:4] == RECORDS[1:4]
    assert made.index(RECORDS[3]) == 3
    assert repr(made) == "<AnimalTable of 6 animals>"
    with pytest.raises(IndexError):
        table()[6]


def test_columns_left_out_hold_the_defaults_of_a_record() -> None:
    assert tuple(AnimalTable(id=["D", "S"])) == (Animal("D"), Animal("S"))
    assert tuple(AnimalTable(id=iter(["D", "K"]), dam=iter([None, "D"]))) == (
        Animal("D"),
        Animal("K", dam="D"),
    )
    assert tuple(AnimalTable(id=[])) == ()


@pytest.mark.parametrize("name", Animal._fields[1:])
def test_column_of_another_length_is_refused(name: str) -> None:
    with pytest.raises(ValueError) as caught:
        AnimalTable(id=["D", "S"], **{name: [getattr(Animal("D"), name)]})
    assert str(caught.value) == f"{name}: 1 values; expected 2, as many as ids"


def test_table_does_not_change_with_the_lists_it_was_made_of() -> None:
    ids = ["D", "S"]
    made = AnimalTable(id=ids)
    ids[0] = "E"
    assert made[0] == Animal("D")


def test_table_equals_the_tuple_of_its_records() -> None:
    assert table() == RECORDS
    assert table() == table()
    assert table() != RECORDS[:-1]
    assert table() != table(sex=["female", "male", "male", "unknown", "male", "female"])
    assert table() != list(RECORDS)
    nothing: Any = ()  # an empty mapping that has a hash
    plain = (Animal("D", founder=nothing, shows=nothing, likelihood=nothing),)
    assert hash(table(plain)) == hash(plain)


def test_population_of_a_table_equals_that_of_records() -> None:
    assert book(table()) == book(RECORDS)
    assert book(RECORDS) == book(table())
    assert book(table()) != book(table(id=["D", "S", "M", "K1", "K2", "U"]))


def test_records_are_made_when_read_and_kept_once_walked() -> None:
    made = table()
    assert made[0] is not made[0]
    walked = list(made)
    assert all(made[i] is animal for i, animal in enumerate(walked))
    assert all(a is b for a, b in zip(made, walked, strict=True))


def _refuse(*_: object) -> NoReturn:
    raise AssertionError("a record was made")


def test_checking_a_population_makes_no_records(monkeypatch: pytest.MonkeyPatch) -> None:
    made = table()
    monkeypatch.setattr("genetics.animal_table._records", _refuse)
    monkeypatch.setattr(AnimalTable, "__getitem__", _refuse)
    assert book(made).sexes == ("female", "male", "male", "unknown", "female", "female")


def test_solving_does_not_make_all_records(monkeypatch: pytest.MonkeyPatch) -> None:
    expected = solve(book(RECORDS)).posterior_table("sg")[2]
    made = table()
    monkeypatch.setattr("genetics.animal_table._records", _refuse)
    assert solve(book(made)).posterior_table("sg")[2].tolist() == expected.tolist()


def test_solving_gives_the_same_numbers() -> None:
    ours, theirs = solve(book(table())), solve(book(RECORDS))
    assert ours.log_evidence == theirs.log_evidence
    for animal in RECORDS:
        assert ours.sex(animal.id) == theirs.sex(animal.id)
        for locus in LOCI:
            name = locus.id
            assert ours.posterior(animal.id, name) == theirs.posterior(animal.id, name)


NEST = Clutch("C2", (Couple("D", "M"),), tally=(TallyLine(2, shows=UNSEEN),))
CHANGES: dict[str, dict[str, Any]] = {
    "clutch": {"clutches": [NEST]},
    "hatchling": {"clutches": [NEST], "animals": [Animal("N", clutch="C2", shows=SEEN)]},
    "replaced": {"animals": [RECORDS[4]._replace(shows=SEEN)]},
    "gone": {"without": ["T"]},
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
@pytest.mark.parametrize("joint", [True, False])
def test_changing_a_solved_table_gives_the_same_book(change: dict[str, Any], joint: bool) -> None:
    records = RECORDS if joint else (RECORDS[0], Animal("S", founder=MAYBE), *RECORDS[2:])
    ours = solve(book(table(records))).changed(**change)
    theirs = solve(book(records)).changed(**change)
    assert ours.population == theirs.population
    assert ours.log_evidence == theirs.log_evidence
    assert ours.posterior_table("sg")[2].tolist() == theirs.posterior_table("sg")[2].tolist()


def test_case_of_a_table_is_written_and_read_as_its_records() -> None:
    written = write_case(Case(book(table())))
    assert written == write_case(Case(book(RECORDS)))
    assert read_case(written).population == read_case(write_case(Case(book(RECORDS)))).population
    assert answer_case(written) == answer_case(write_case(Case(book(RECORDS))))


def test_conflict_among_the_records_of_a_table_is_found() -> None:
    clash = Animal("K3", clutch="C1", founder={}, shows=SEEN)
    sure = {"sg": {"+/+": 1}}
    records = (Animal("D", "female", founder=sure), *RECORDS[1:], clash)
    found = smallest_conflict(book(table(records)))
    assert found == smallest_conflict(book(records))
    assert found


FAULTS: dict[str, dict[str, Any]] = {
    "same id": {"id": ["D", "S", "M", "K1", "K2", "D"]},
    "empty id": {"id": ["D", "S", "M", "K1", "K2", ""]},
    "unknown dam": {"dam": [None, None, None, None, None, "nobody"]},
    "unknown clutch": {"clutch": [None, None, None, "C9", "C1", None]},
    "clutch and dam": {"dam": [None, None, None, "D", None, "K2"]},
    "sex against use": {"sex": ["male", "unknown", "male", "unknown", "female", "female"]},
    "no sex": {"sex": ["female", "unknown", "male", "unknown", "neither", "female"]},
    "dam and sire": {"sire": [None, None, None, None, None, "D"]},
    "descends from itself": {"dam": ["T", None, None, None, None, "K2"]},
    "statement of young": {"founder": [MAYBE, MAYBE, HET, HET, {}, {}]},
    "unknown locus": {"founder": [MAYBE, MAYBE, {"xx": {"+/+": 1}}, {}, {}, {}]},
    "not a distribution": {"founder": [MAYBE, MAYBE, {"sg": {"+/+": 0.9}}, {}, {}, {}]},
    "rows that do not add up": {
        "founder_joint": [(), (FounderRow(0.5, {"qw": "+/qw"}),), (), (), (), ()]
    },
    "locus stated twice": {"founder_joint": [(), (FounderRow(1, {"sg": "+/sg"}),), (), (), (), ()]},
    "unknown trait": {"shows": [{}, {}, {}, {"Marrowglass": Sighting(True)}, {}, {}]},
    "weight below 0": {"likelihood": [{}, {}, {}, {}, {}, {"qw": {"+/+": -1}}]},
}


@pytest.mark.parametrize("changed", FAULTS.values(), ids=FAULTS.keys())
def test_faults_are_told_as_of_records(changed: dict[str, Any]) -> None:
    faulty = table(**changed)
    with pytest.raises(MalformedCase) as of_records:
        book(tuple(faulty))
    with pytest.raises(MalformedCase) as of_table:
        book(table(**changed))
    assert str(of_table.value) == str(of_records.value)
