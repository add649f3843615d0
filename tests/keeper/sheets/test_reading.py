"""The legend of a sheet explains every word that it uses, and no other."""

from typing import Any

import pytest

from keeper.domain.sheets.reading import reading
from keeper.models import Word


def content(words: str = "", **more: Any) -> dict[str, Any]:
    row: dict[str, Any] = {
        "trait": "Saltgrass",
        "words": words,
        "strip": None,
        "lines": [],
        "parts": [],
    }
    return {"claims": [row], "parents": [], "shows": [], "disputed": []} | more


@pytest.mark.parametrize("word", [word for word in Word if word != Word.ABSENT])
def test_every_word_of_certainty_is_explained(word: Word) -> None:
    plain = reading(content())
    assert len(reading(content(str(word.label)))) > len(plain)


@pytest.mark.parametrize(
    ("words", "means"),
    [
        ("proven by 2 in 1 clutch", "“proven” has produced a visual"),
        ("85 % carries it; 57 % has two copies", "“carries it” has one copy or two"),
        ("must carry it", "“must carry it”: the records leave nothing else"),
        ("visual; 33 % has two copies", "a “copy” fills one of them"),
    ],
)
def test_a_word_is_explained_where_it_is_used_alone(words: str, means: str) -> None:
    assert means in reading(content(words))
    assert means not in reading(content())


def test_words_of_parents_and_of_disputes_are_explained() -> None:
    parents = [{"role": "dam", "code": "F-1", "was": "Saltgrass (tested clean so far)"}]
    said = reading(content(parents=parents, disputed=["Quillwort"]))
    assert "“tested clean so far”:" in said
    assert "“disputed”: records contradict each other" in said


def test_bars_are_explained_where_there_is_one() -> None:
    assert "In the bars" not in reading(content())
    row = content("visual")["claims"][0] | {"strip": {"marker": None}}
    assert "In the bars" in reading(content(claims=[row]))
    assert "A mark below" not in reading(content(claims=[row]))
    row = row | {"strip": {"marker": 40}}
    assert "A mark below a bar stands at the chance by the parents alone." in reading(
        content(claims=[row])
    )
