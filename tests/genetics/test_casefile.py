"""Case files are read as they are meant, written back equal, and refused by their schema."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from fractions import Fraction
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from genetics.case_faults import shape_fault
from genetics.casefile import (
    answer_case,
    answer_text,
    case_schema,
    check_case,
    check_text,
    parse_text,
    read_case,
    write_case,
)
from genetics.errors import MalformedCase
from genetics.population import (
    Animal,
    Case,
    Clutch,
    Couple,
    FounderRow,
    Goal,
    Interval,
    JointQuestion,
    Linkage,
    Locus,
    OffspringQuestion,
    Population,
    Questions,
    SameLocus,
    Sighting,
    TallyLine,
    Trait,
    Viability,
)
from tests.genetics.case_files import mutated, worked_case, worked_names
from tests.genetics.cases import STRATEGIES

HALF = Fraction(1, 2)


def a_case(**changes: Any) -> dict[str, Any]:
    """The worked case of a possible carrier with some of its fields replaced."""
    return worked_case("possible-carrier") | changes


def refusal(data: object) -> tuple[str, str]:
    """Place and message with which a case is refused."""
    with pytest.raises(MalformedCase) as caught:
        read_case(data)
    return caught.value.place, str(caught.value)


# ---- reading ---------------------------------------------------------------------------------


def test_reading_gives_the_records_that_the_file_states() -> None:
    found = read_case(
        {
            "case": 1,
            "sex_determination": "XY",
            "loci": [
                {"id": "pa", "alleles": ["+", "p"], "chromosome": "autosome"},
                {"id": "pb", "alleles": ["+", "q"]},
                {"id": "sg", "alleles": ["+", "har"]},
                {"id": "qw", "alleles": ["+", "dun"]},
                {
                    "id": "mk",
                    "alleles": ["+", "mk"],
                    "chromosome": "sex",
                    "recombination": "1/20",
                },
            ],
            "linkage": [{"loci": ["sg", "qw"], "recombination": [{"female": 0.1, "male": "1/5"}]}],
            "viability": [{"locus": "sg", "genotype": "har/har", "survival": "1/2"}],
            "traits": [
                {"id": "Chalk", "shown_by": [{"sg": ["har/har"], "qw": "dun/dun"}], "hides": ["*"]},
                {"id": "Pale", "recessive_at": ["pa", "pb"]},
            ],
            "background": {"sg": {"har": 0.001}},
            "animals": [
                {"id": "M1", "sex": "male", "founder": {"sg": {"+/+": "1/3", "+/har": "2/3"}}},
                {
                    "id": "F1",
                    "sex": "female",
                    "founder_joint": [{"p": 1.0, "genotypes": {"pa": "p/p"}}],
                },
                {"id": "K1", "sex": "unknown", "dam": "F1", "sire": None, "clutch": None},
                {
                    "id": "K2",
                    "clutch": "C1",
                    "shows": {"Pale": {"seen": True, "false_negative": 0.05}, "Chalk": False},
                    "likelihood": {"sg": {"+/+": 2, "+/har": "10/3"}},
                },
            ],
            "clutches": [
                {
                    "id": "C1",
                    "candidates": [{"dam": "F1", "sire": "M1", "p": "1/2"}, {"p": 0.5}],
                    "paternity": "each",
                    "tally": [{"count": 7.0, "sex": "male", "shows": {"Pale": True}}],
                },
                {"id": "C2", "sire": "M1"},
            ],
            "same_locus": [{"loci": ["pa", "pb"], "prior": 0.3}],
            "ask": {
                "joint": [{"animal": "K1", "genotypes": {"sg": "+/har", "pa": ["+/p", "p/p"]}}],
                "offspring": [
                    {"dam": "F1", "sire": "M1"},
                    {
                        "dam": "F1",
                        "sire": "M1",
                        "eggs": [1, 8],
                        "goal": {
                            "shows": {"Pale": False},
                            "genotypes": {"sg": "+/+"},
                            "sex": "male",
                        },
                    },
                ],
                "kinship": [["K1", "K2"]],
                "inbreeding": ["K1"],
            },
        }
    )
    expected = Population(
        loci=(
            Locus("pa", ("+", "p")),
            Locus("pb", ("+", "q")),
            Locus("sg", ("+", "har")),
            Locus("qw", ("+", "dun")),
            Locus("mk", ("+", "mk"), "sex", Fraction(1, 20)),
        ),
        animals=(
            Animal("M1", "male", founder={"sg": {"+/+": HALF * 2 / 3, "+/har": Fraction(2, 3)}}),
            Animal("F1", "female", founder_joint=(FounderRow(1.0, {"pa": "p/p"}),)),
            Animal("K1", dam="F1"),
            Animal(
                "K2",
                clutch="C1",
                shows={"Pale": Sighting(True, 0.05), "Chalk": Sighting(False)},
                likelihood={"sg": {"+/+": 2, "+/har": Fraction(10, 3)}},
            ),
        ),
        clutches=(
            Clutch(
                "C1",
                (Couple("F1", "M1", HALF), Couple(None, None, 0.5)),
                "each",
                (TallyLine(7, "male", {"Pale": Sighting(True)}),),
                stated_candidates=True,
            ),
            Clutch("C2", (Couple(None, "M1"),)),
        ),
        traits=(
            Trait("Chalk", ({"sg": ("har/har",), "qw": ("dun/dun",)},), hides=("*",)),
            Trait("Pale", recessive_at=("pa", "pb")),
        ),
        sex_determination="XY",
        linkage=(Linkage(("sg", "qw"), (Interval(0.1, Fraction(1, 5)),)),),
        viability=(Viability("sg", "har/har", HALF),),
        background={"sg": {"har": 0.001}},
        same_locus=(SameLocus(("pa", "pb"), 0.3),),
    )
    asked = Questions(
        joint=(JointQuestion("K1", {"sg": ("+/har",), "pa": ("+/p", "p/p")}),),
        offspring=(
            OffspringQuestion("F1", "M1"),
            OffspringQuestion("F1", "M1", (1, 8), Goal({"Pale": False}, {"sg": ("+/+",)}, "male")),
        ),
        kinship=(("K1", "K2"),),
        inbreeding=("K1",),
    )
    assert found == Case(expected, asked)


def test_fields_left_out_follow_the_defaults() -> None:
    found = read_case({"loci": [], "animals": []})
    assert found == Case(Population(loci=(), animals=(), sex_determination="none"))


def test_numbers_keep_their_kind() -> None:
    founder = {"sg": {"+/+": 0, "+/har": "2/3", "har/har": 1.0 / 3}}
    found = read_case(a_case(animals=[{"id": "F1", "founder": founder}, {"id": "M1"}], ask={}))
    numbers = found.population.animals[0].founder["sg"].values()
    assert [type(number) for number in numbers] == [int, Fraction, float]


# ---- refusing --------------------------------------------------------------------------------

A_NUMBER = 'expected a number, or a fraction in a string such as "2/3"'


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ([], ": an empty list is not accepted; expected a case: an object with loci, animals"),
        (None, ": null is not accepted; expected a case: an object with loci, animals"),
        ({}, ': "loci", "animals" is missing; expected a case: an object with loci, animals'),
    ],
)
def test_no_case_is_refused(data: object, message: str) -> None:
    place, found = refusal(data)
    assert (place, found) == ("", f"{message[2:]} and what else is known")


SHAPES: dict[str, tuple[dict[str, Any], str]] = {
    "another format": (
        {"case": 2},
        "case: 2 is not accepted; expected 1, the version of the format",
    ),
    "true is not 1": (
        {"case": True},
        "case: true is not accepted; expected 1, the version of the format",
    ),
    "misspelt section": (
        {"animal": []},
        'animal: no such field; the nearest accepted is "animals"',
    ),
    "unlike any section": (
        {"zzz": []},
        'zzz: no such field; accepted: "case", "sex_determination", "loci", "linkage", '
        '"viability", "traits", "background", "animals", "clutches", "same_locus", "trust", '
        '"females", "ask"',
    ),
    "loci by id": (
        {"loci": {"sg": {}}},
        "loci: an object is not accepted; expected a list of loci",
    ),
    "misspelt field": (
        {"animals": [{"id": "F1"}, {"id": "K1", "sier": "M1"}]},
        'animals[1].sier: no such field; the nearest accepted is "sire"',
    ),
    "no recombination with the sex": (
        {"loci": [{"id": "mk", "alleles": ["+", "mk"], "chromosome": "sex"}]},
        'loci[0]: "recombination" is missing; '
        "expected the fraction for a locus of both sex chromosomes",
    ),
    "missing id": (
        {"animals": [{"sex": "male"}]},
        'animals[0]: "id" is missing; expected an animal: an object with id',
    ),
    "id of a wrong kind": (
        {"animals": [{"id": 7}]},
        "animals[0].id: 7 is not accepted; expected a string that is not empty",
    ),
    "sex of a wrong kind": (
        {"animals": [{"id": "F1", "sex": "f"}]},
        'animals[0].sex: "f" is not accepted; expected one of "female", "male", "unknown"',
    ),
    "probability in words": (
        {"animals": [{"id": "F1", "founder": {"sg": {"+/+": "half"}}}]},
        f'animals[0].founder.sg.+/+: "half" is not accepted; {A_NUMBER}',
    ),
    "division by zero": (
        {"animals": [{"id": "F1", "founder": {"sg": {"+/+": "1/0"}}}]},
        f'animals[0].founder.sg.+/+: "1/0" is not accepted; {A_NUMBER}',
    ),
    "line break in a fraction": (
        {"animals": [{"id": "F1", "founder": {"sg": {"+/+": "1/1\n"}}}]},
        f'animals[0].founder.sg.+/+: "1/1\\u000a" is not accepted; {A_NUMBER}',
    ),
    "endless fraction": (
        {"animals": [{"id": "F1", "founder": {"sg": {"+/+": "1" * 101}}}]},
        f'animals[0].founder.sg.+/+: "{"1" * 60}…" is not accepted; {A_NUMBER}',
    ),
    "truth value for a number": (
        {"animals": [{"id": "F1", "founder": {"sg": {"+/+": True}}}]},
        f"animals[0].founder.sg.+/+: true is not accepted; {A_NUMBER}",
    ),
    "number for a truth value": (
        {"animals": [{"id": "F1", "shows": {"Saltgrass": 1}}]},
        "animals[0].shows.Saltgrass: 1 is not accepted; expected true, false, or an object with "
        "seen, false_negative and false_positive",
    ),
    "sighting without seen": (
        {"animals": [{"id": "F1", "shows": {"Saltgrass": {"false_negative": 0.1}}}]},
        'animals[0].shows.Saltgrass: "seen" is missing; expected true, false, or an object with '
        "seen, false_negative and false_positive",
    ),
    "row without p": (
        {"animals": [{"id": "F1", "founder_joint": [{"genotypes": {}}]}]},
        'animals[0].founder_joint[0]: "p" is missing; expected a row: an object with p and '
        "genotypes",
    ),
    "couple and candidates": (
        {"clutches": [{"id": "C1", "dam": "F1", "candidates": [{"dam": "F1"}]}]},
        'clutches[0].dam: "F1" is not accepted; expected dam and sire or candidates, not both',
    ),
    "no candidates": (
        {"clutches": [{"id": "C1", "candidates": []}]},
        "clutches[0].candidates: an empty list is not accepted; "
        "expected a list of one or more couples",
    ),
    "part of a hatchling": (
        {"clutches": [{"id": "C1", "tally": [{"count": 1.5}]}]},
        "clutches[0].tally[0].count: 1.5 is not accepted; "
        "expected a whole number from 0 to 1000000000",
    ),
    "background as a number": (
        {"background": {"sg": 0.1}},
        "background.sg: 0.1 is not accepted; expected an object of numbers",
    ),
    "three lines": (
        {"same_locus": [{"loci": ["pa", "pb", "pc"], "prior": 0.1}]},
        "same_locus[0].loci: a list of 3 is not accepted; expected a list of two loci",
    ),
    "kinship of three": (
        {"ask": {"kinship": [["M1", "F1"], ["M1", "F1", "K1"]]}},
        "ask.kinship[1]: a list of 3 is not accepted; expected a list of two animals",
    ),
    "misspelt goal": (
        {"ask": {"offspring": [{"dam": "F1", "sire": "M1", "goal": {"show": {}}}]}},
        'ask.offspring[0].goal.show: no such field; the nearest accepted is "shows"',
    ),
}


@pytest.mark.parametrize(("changes", "message"), SHAPES.values(), ids=SHAPES)
def test_shape_is_refused(changes: dict[str, Any], message: str) -> None:
    place, found = refusal(a_case(**changes))
    assert found == message
    assert found.startswith(f"{place}: ")


def test_meaning_is_refused_at_its_place() -> None:
    case = a_case()
    case["animals"][0]["founder"]["sg"]["+/har"] = "1/3"
    assert check_case(case) == {
        "error": "malformed",
        "message": "animals[0].founder.sg: probabilities sum to 2/3, not 1",
        "place": "animals[0].founder.sg",
    }


def test_question_is_refused_at_its_place() -> None:
    assert refusal(a_case(ask={"inbreeding": ["K9"]})) == (
        "ask.inbreeding[0]",
        'ask.inbreeding[0]: no animal has the id "K9"; the nearest is "K1"',
    )


def test_values_that_no_json_holds_are_refused() -> None:
    case = a_case(animals=[{"id": "F1", "founder": {"sg": {"+/+": Fraction(1)}}}])
    assert refusal(case) == (
        "animals[0]",
        "animals[0]: an object is not accepted; expected JSON values only",
    )


# ---- text ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (b"", "not JSON: Expecting value at line 1, column 1"),
        (b'{"loci": [}', "not JSON: Expecting value at line 1, column 11"),
        (b"{}\n{}", "not JSON: Extra data at line 2, column 1"),
        (b'{"a": NaN}', "NaN is not accepted; expected JSON numbers, or fractions in strings"),
        (
            b"[-Infinity]",
            "-Infinity is not accepted; expected JSON numbers, or fractions in strings",
        ),
        (b'{"id": "\xff"}', "byte 8 (0xff) is not UTF-8; expected JSON in UTF-8"),
        (
            b"[" * 100_000,
            "nested too deeply; expected a case, which needs no more than eight levels",
        ),
        (
            b"1" * 5000,
            "a whole number has thousands of digits; expected numbers of ordinary size",
        ),
        (
            b'{"animals": [{"id": "a"}, {"id": "b", "sex": "male", "id": "c"}]}',
            'animals[1].id: "id" is given twice; expected each field of an object once',
        ),
        (
            b'{"case": 1, "case": 1}',
            'case: "case" is given twice; expected each field of an object once',
        ),
    ],
)
def test_text_is_refused(text: bytes, message: str) -> None:
    found = check_text(text)
    assert found["error"] == "malformed"
    assert found["message"] == message
    assert answer_text(text) == found


def test_text_may_start_with_a_byte_order_mark() -> None:
    assert parse_text(b'\xef\xbb\xbf{"id": "\xe2\x99\x80"}') == {"id": "♀"}


def test_number_beyond_double_precision_is_refused_as_a_number() -> None:
    text = b'{"loci": [{"id": "a", "alleles": ["+"]}], "animals": [{"id": "F1", "likelihood": '
    assert check_text(text + b'{"a": {"+/+": 1e999}}}]}') == {
        "error": "malformed",
        "message": "animals[0].likelihood.a.+/+: inf is not accepted; "
        "expected a number of 0 or more, below 1e308",
        "place": "animals[0].likelihood.a.+/+",
    }


# ---- writing ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", worked_names())
def test_worked_case_is_written_back_equal(name: str) -> None:
    case = read_case(worked_case(name))
    written = write_case(case)
    assert read_case(written) == case
    assert list(Draft202012Validator(case_schema()).iter_errors(written)) == []


@pytest.mark.parametrize("feature", STRATEGIES)
def test_random_case_is_written_back_equal(feature: str) -> None:
    @settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
    @given(STRATEGIES[feature])
    def check(data: dict[str, Any]) -> None:
        before = copy.deepcopy(data)
        case = read_case(data)
        written = write_case(case)
        assert data == before
        assert read_case(written) == case
        assert write_case(read_case(written)) == written
        assert list(Draft202012Validator(case_schema()).iter_errors(data)) == []
        assert list(Draft202012Validator(case_schema()).iter_errors(written)) == []

    check()


def test_writing_leaves_defaults_out_and_keeps_fractions_exact() -> None:
    population = Population(
        loci=(Locus("sg", ("+", "har")), Locus("xl", ("+", "x"), "X")),
        animals=(
            Animal("M1", founder={"sg": {"+/+": Fraction(1, 3), "+/har": Fraction(2, 3)}}),
            Animal("K1", clutch="C1"),
        ),
        clutches=(Clutch("C1", (Couple(None, "M1"),)),),
        sex_determination="XY",
    )
    assert write_case(Case(population)) == {
        "case": 1,
        "sex_determination": "XY",
        "loci": [
            {"id": "sg", "alleles": ["+", "har"]},
            {"id": "xl", "alleles": ["+", "x"], "chromosome": "X"},
        ],
        "animals": [
            {"id": "M1", "founder": {"sg": {"+/+": "1/3", "+/har": "2/3"}}},
            {"id": "K1", "clutch": "C1"},
        ],
        "clutches": [{"id": "C1", "dam": None, "sire": "M1"}],
    }


# ---- schema ----------------------------------------------------------------------------------


@pytest.fixture
def shape_faults(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """Collects the values whose shape the reader refused."""
    seen: list[object] = []

    def noted(value: object, part: str, place: str) -> MalformedCase:
        seen.append(value)
        return shape_fault(value, part, place)

    monkeypatch.setattr("genetics.case_reader.shape_fault", noted)
    return seen


def test_schema_is_a_schema() -> None:
    Draft202012Validator.check_schema(case_schema())


def subschemas(schema: Any) -> Iterator[dict[str, Any]]:
    """Every part of the schema that can be at fault."""
    if isinstance(schema, dict):
        if schema.keys() & {"type", "enum", "const", "required"}:
            yield schema
        for keyword, below in schema.items():
            if keyword != "if":
                yield from subschemas(below)


def test_schema_says_everywhere_what_is_accepted() -> None:
    found = [
        each for each in subschemas(case_schema()) if isinstance(each.get("type", ""), str | list)
    ]
    assert len(found) > 50
    assert [each for each in found if not isinstance(each.get("description"), str)] == []


@settings(max_examples=800, deadline=None, suppress_health_check=list(HealthCheck))
@given(name=st.sampled_from(worked_names()), seed=st.integers(0, 2**32))
def test_reader_refuses_the_shape_exactly_where_the_schema_does(
    shape_faults: list[object], name: str, seed: int
) -> None:
    data = mutated(worked_case(name), Random(seed))
    shape_faults.clear()
    message = check_case(data).get("message", "")
    assert bool(shape_faults) == (not Draft202012Validator(case_schema()).is_valid(data))
    assert "JSON values only" not in message


# ---- answering -------------------------------------------------------------------------------


def test_answer_to_a_malformed_case_is_its_fault() -> None:
    assert answer_case(a_case(animals=[{}])) == {
        "error": "malformed",
        "message": 'animals[0]: "id" is missing; expected an animal: an object with id',
        "place": "animals[0]",
    }


def test_answer_to_impossible_evidence_names_a_smallest_conflict() -> None:
    found = answer_case(worked_case("impossible-evidence"))
    assert found["error"] == "impossible"
    assert sorted(found["conflict"]) == ["K1.parents", "K1.shows.Saltgrass", "M1.founder.sg"]
    assert all(record in found["message"] for record in found["conflict"])


def posterior(name: str, animal: str, locus: str) -> dict[str, float]:
    """The answer to one worked case, for one animal and locus."""
    found: dict[str, float] = answer_case(worked_case(name))["posterior"][animal][locus]
    return found


# Worked by hand; the workings stand in fixtures/cases/README.md.
@pytest.mark.parametrize(
    ("name", "animal", "locus", "key", "chance"),
    [
        ("possible-carrier", "M1", "sg", "+/har", Fraction(1, 9)),
        ("several-alleles", "K1", "sg", "har/pel", 1),
        ("several-alleles", "K2", "sg", "har/har", Fraction(2, 3)),
        ("one-copy-x", "K1", "xl", "x/Y", 1),
        ("one-copy-z", "K1", "rs", "r/r", Fraction(4, 5)),
        ("sex-chromosome-crossover", "K2", "mk", "+/mk", Fraction(1, 100)),
        ("linked-loci", "K1", "b", "+/b", Fraction(13, 14)),
        ("lethal-homozygote", "K1", "sp", "+/+", Fraction(5, 14)),
        ("masking-traits", "K1", "bl", "a/b", 1),
        ("either-line", "F1", "pb", "q/q", 1),
        ("unrecorded-parents", "K2", "sg", "har/har", 1),
        ("erring-eye-and-test", "K2", "sg", "+/har", Fraction(10, 11)),
        ("two-possible-sires", "M2", "sg", "+/+", Fraction(137, 147)),
    ],
)
def test_worked_case_is_answered_as_by_hand(
    name: str, animal: str, locus: str, key: str, chance: Fraction
) -> None:
    assert posterior(name, animal, locus)[key] == pytest.approx(float(chance), abs=1e-12)


def test_worked_questions_are_answered_as_by_hand() -> None:
    assert answer_case(worked_case("inbred-family"))["kinship"] == [0.25, 0.3125]
    assert answer_case(worked_case("one-copy-z"))["joint"] == [pytest.approx(0.8, abs=1e-12)]
    assert answer_case(worked_case("one-copy-x"))["sex"]["K2"] == pytest.approx(2 / 3, abs=1e-12)
    assert answer_case(worked_case("one-locus-or-two"))["same_locus"] == [
        0,
        pytest.approx(0.5, abs=1e-12),
    ]
    parentage = answer_case(worked_case("two-possible-sires"))["parentage"]["C1"]
    assert parentage == pytest.approx([6 / 49, 43 / 49], abs=1e-12)
    each = answer_case(worked_case("sire-of-each-egg"))["parentage"]["C1"]
    assert each == {"K1": pytest.approx([1, 0]), "K2": pytest.approx([0.5, 0.5])}
