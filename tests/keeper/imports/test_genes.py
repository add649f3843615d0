"""The shorthand of a table's cells, with what the keeper answered."""

from collections.abc import Mapping

from keeper.domain.imports.genes import Asked, Genes, NewTrait
from keeper.domain.saying.shorthand import Gene
from keeper.models import Claim

SALTGRASS = Gene(1, "Saltgrass", {"Harvesk": 11, "HAR": 11}, {11: "HAR"})


def genes(*texts: str, answers: Mapping[str, Mapping[str, str]] | None = None) -> Genes:
    return Genes(5, [SALTGRASS], answers or {}, texts)


def said(reader: Genes, text: str) -> list[tuple[int, int | None, Claim]]:
    return [(one.trait, one.line, one.claim) for one in reader.said(text).words]


def test_words_that_always_stand_together_are_one_name() -> None:
    reader = genes("het Grey Tide", "Saltgrass Grey Tide", "Fog, Saltgrass")
    assert [one.text for one in reader.said("het Grey Tide").asked] == ["Grey Tide"]
    apart = genes("het Grey Tide", "Grey, Saltgrass")
    assert [one.text for one in apart.said("het Grey Tide").asked] == ["Grey", "Tide"]


def test_keeper_can_say_that_a_name_is_several() -> None:
    texts = ("Grey Tide",)
    key = genes(*texts).said(texts[0]).asked[0].key
    answers = {key: {"is": "apart", "name": "", "code": ""}}
    found = genes(*texts, answers=answers).said(texts[0])
    assert [one.text for one in found.asked] == ["Grey", "Tide"]


def test_unknown_name_is_asked_once_however_it_is_written() -> None:
    reader = genes("het Saltgras", "66% poss het SALTGRAS")
    first, second = reader.said("het Saltgras"), reader.said("66% poss het SALTGRAS")
    assert first.asked == (Asked("trait:5::saltgras", "trait", "Saltgras", near=("Saltgrass",)),)
    assert first.asked[0].key == second.asked[0].key
    assert (first.words, first.problems) == ((), ())


def test_answer_stands_for_the_name_in_every_cell() -> None:
    answers = {"trait:5::saltgras": {"is": "is", "name": "Saltgrass", "code": "Saltgrass"}}
    reader = genes("het Saltgras (HAR), 50% poss het saltgras", answers=answers)
    assert said(reader, "het Saltgras (HAR)") == [(1, 11, Claim.CARRIES)]
    assert said(reader, "50% poss het saltgras") == [(1, None, Claim.POSSIBLE)]


def test_new_trait_has_a_number_of_its_own_until_it_is_written() -> None:
    answers = {
        "trait:5::fog": {"is": "new:single", "name": "Fogbell", "code": "FOG", "line": "Dunsk"}
    }
    reader = genes("Fog, DH Fog Saltgrass", answers=answers)
    assert said(reader, "Fog") == [(-1, None, Claim.VISUAL)]
    assert said(reader, "het Fog (FOG)") == [(-1, -1, Claim.CARRIES)]
    assert list(reader.traits.values()) == [NewTrait(-1, "Fogbell", "single", "FOG", "Dunsk", 5)]


def test_noted_name_leaves_the_rest_and_goes_to_the_notes() -> None:
    answers = {"trait:5::banded": {"is": "note", "name": "", "code": ""}}
    found = genes("het Saltgrass, banded", answers=answers).said("het Saltgrass, banded")
    assert ([one.trait for one in found.words], found.noted, found.asked) == ([1], True, ())


def test_unknown_line_is_asked_once_and_answered() -> None:
    reader = genes("het Saltgrass (Pelnaw)")
    (asked,) = reader.said("het Saltgrass (Pelnaw)").asked
    assert (asked.kind, asked.text, asked.about, asked.near) == (
        "line", "Pelnaw", "Saltgrass", ("HAR",),
    )  # fmt: skip
    for answer, line, noted in (
        ({"is": "is", "name": "HAR", "code": "HAR"}, 11, False),
        ({"is": "new", "name": "Pelnaw", "code": "PEL", "line": "Pelnaw"}, -1, False),
        ({"is": "note", "name": "", "code": ""}, None, True),
    ):
        reader = genes("het Saltgrass (Pelnaw)", answers={asked.key: answer})
        found = reader.said("het Saltgrass (Pelnaw)")
        assert ([one.line for one in found.words], found.noted) == ([line], noted)


def test_what_cannot_be_read_otherwise_is_a_problem_of_its_cell() -> None:
    (problem,) = genes().said("66 het Saltgrass, 2.3 Saltgrass").problems[:1]
    assert "one animal is 1.0, 0.1 or 0.0.1" in problem
