"""What single cells, heads and columns say."""

from datetime import date
from fractions import Fraction

import pytest

from keeper.domain.imports.genes import under_a_name, under_hets
from keeper.domain.imports.naming import alike, fitted
from keeper.domain.imports.tables import cells, days, heads
from keeper.domain.imports.tables.meanings import Meaning, guessed, key_of
from keeper.domain.imports.tables.plain import parted_by

TODAY = date(2026, 11, 30)


@pytest.mark.parametrize(
    ("column", "order"),
    [
        (["03/04/2024", "25/04/2024"], "dmy"),
        (["03/04/2024", "04/25/2024"], "mdy"),
        (["03/04/2024", "05/06/2024"], ""),
        (["25/04/2024", "04/25/2024"], ""),
        (["2024-04-03", "2019"], "ymd"),
        ([], "ymd"),
    ],
)
def test_order_of_days_is_told_by_the_whole_column(column: list[str], order: str) -> None:
    assert days.order_of(column) == order


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("03/04/2024", "dmy", date(2024, 4, 3)),
        ("03/04/2024", "mdy", date(2024, 3, 4)),
        ("3.4.24", "dmy", date(2024, 4, 3)),
        ("3.4.98", "dmy", date(1998, 4, 3)),
        ("24-04-03", "ymd", date(2024, 4, 3)),
        ("2024/4/3", "dmy", date(2024, 4, 3)),
        ("3 April 2024", "", date(2024, 4, 3)),
        ("Apr 3rd, 2024", "", date(2024, 4, 3)),
        ("1.1.1900", "dmy", date(1900, 1, 1)),
        ("31.12.2100", "dmy", date(2100, 12, 31)),
    ],
)
def test_day_is_read_in_the_order_of_the_keeper(text: str, order: str, day: date) -> None:
    assert days.read(text, order, TODAY) == day


def test_year_alone_is_a_year() -> None:
    assert days.read("2019", "dmy", TODAY) == 2019


@pytest.mark.parametrize(
    ("text", "order", "said"),
    [
        ("31.02.2024", "dmy", "There is no such day. Correct it, like 2024-04-30."),
        ("1.1.1899", "dmy", "The year 1899 is none of a keeper's. Correct the day."),
        ("soon", "dmy", "This is no day. Write it like 2024-04-30."),
        ("03/04/2024", "", "Say first in which order the days of this table are written."),
        ("3 Foo 2024", "", "“Foo” is no month. Write the day like 2024-04-30."),
        ("43831", "dmy", "This is no day. Write it like 2024-04-30."),
    ],
)
def test_what_is_no_day_is_said(text: str, order: str, said: str) -> None:
    with pytest.raises(ValueError, match=r".") as caught:
        days.read(text, order, TODAY)
    assert str(caught.value) == said


def test_number_of_a_spreadsheet_is_offered_as_its_day() -> None:
    assert (days.offered("43831"), days.offered("12")) == ("2020-01-01", "")


@pytest.mark.parametrize(
    ("text", "counted", "sex"),
    [
        ("1.0", False, "male"), ("0,1", False, "female"), ("0.0.1", False, "unknown"),
        ("M", False, "male"), ("♀", False, "female"), ("Female", False, "female"),
        ("1", True, "male"), ("?", False, "unknown"),
    ],
)  # fmt: skip
def test_sex_is_read(text: str, counted: bool, sex: str) -> None:
    assert cells.sex(text, counted=counted) == sex


@pytest.mark.parametrize("text", ["🐍", "1", "2.3", "yes"])
def test_what_is_no_sex_is_said(text: str) -> None:
    with pytest.raises(ValueError, match="no sex"):
        cells.sex(text, counted=False)


@pytest.mark.parametrize(
    ("text", "unit", "grams"),
    [
        ("350", "g", Fraction(350)), ("1,5 kg", "", Fraction(1500)),
        ("2 oz", "g", Fraction("56.69904625")), ("10", "oz", Fraction("283.49523125")),
        ("1 lb", "", Fraction("453.59237")),
    ],
)  # fmt: skip
def test_weight_is_read_in_grams(text: str, unit: str, grams: Fraction) -> None:
    assert cells.weight(text, unit).grams == grams


def test_weight_without_a_unit_is_asked_for() -> None:
    with pytest.raises(ValueError, match="grams or ounces"):
        cells.weight("350", "")
    assert str(cells.weight("10", "oz")) == "283.5 g (in the file: 10)"


def test_columns_are_guessed_by_their_heads_and_by_earlier_picks() -> None:
    named = ["Animal ID", "DOB", "Father", "Morph", "Temper", "Saltgrass", "Cage", "Hets"]
    assert guessed(named, {"temper": "left"}, ["Saltgrass"]) == [
        Meaning.CODE, Meaning.HATCHED, Meaning.SIRE, Meaning.GENES, Meaning.LEFT, Meaning.GENE,
        Meaning.PLACE, Meaning.GENES,
    ]  # fmt: skip
    # A meaning that one column alone may have is given once.
    assert guessed(["Code", "ID"], {}, []) == [Meaning.CODE, Meaning.NOTE]
    assert key_of("Date_of Birth:") == "date of birth"


@pytest.mark.parametrize(
    ("rows", "found"),
    [
        ([["Code", "Sex"], ["A-1", "1.0"]], (1, 1)),
        ([["My herd", ""], ["", ""], ["Code", "Sex"], ["A-1", "1.0"]], (3, 1)),
        ([["A-1", "1.0"], ["A-2", "0.1"]], (0, 0)),
        ([["What", "Which"], ["A-1", "1.0"]], (1, 1)),
        ([["Animal", "Parents", "", ""], ["Code", "", "Dam", "Sire"], ["A", "", "B", "C"]], (1, 2)),
    ],
)  # fmt: skip
def test_heads_are_found(rows: list[list[str]], found: tuple[int, int]) -> None:
    assert heads.find(rows) == found


def test_heads_of_two_rows_are_read_together_and_an_empty_one_by_its_letter() -> None:
    rows = [["", "Parents", "Parents", ""], ["Code", "Dam", "Sire", ""], ["A", "B", "C", "x"]]
    assert heads.read(rows, 1, 2) == ["Code", "Parents Dam", "Parents Sire", "Column D"]
    assert heads.letter(27) == "AB"


def test_cells_under_a_head_say_how_an_animal_has_what_the_head_names() -> None:
    assert under_a_name("66 %", "Saltgrass") == "66 % poss het Saltgrass"
    assert under_a_name("het", "Saltgrass") == "het Saltgrass"
    assert under_a_name("x", "Saltgrass") == "visual Saltgrass"
    assert under_a_name("-", "Saltgrass") == ""
    assert under_hets("Saltgrass, 66 % het Thrift", "hets") == "het Saltgrass, 66 % het Thrift"
    assert under_hets("Saltgrass", "possible hets") == "poss het Saltgrass"
    assert under_hets("Saltgrass", "traits") == "Saltgrass"


def test_codes_that_look_alike_are_alike_and_others_are_not() -> None:
    assert alike("F-014") == alike("f014") == alike("F 14")
    assert alike("24-1-11") != alike("24-11-1")
    assert fitted("Old lady #2") == "Old-lady-2"
    assert fitted("🐍") == ""


def test_columns_are_parted_by_what_stands_evenly() -> None:
    assert parted_by("code;weight\n1;1,5\n2;2,5\n") == ";"
    assert parted_by("code\tname\nA\tx, y\n") == "\t"
    assert parted_by("code,traits\nA,het B\n") == ","
