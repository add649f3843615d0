"""Whatever is read, it is answered or refused in words; nothing ends in a traceback."""

from __future__ import annotations

import json
from random import Random
from typing import Any

import pytest

from genetics.casefile import answer_case, answer_text, check_case, check_text
from tests.genetics.case_files import CASES, mutated, random_json, worked_case, worked_names

REFUSED = {"error", "message", "place"}


def assert_refused_in_words(found: dict[str, Any]) -> None:
    """The answer to a malformed case: its place, and what would be accepted there."""
    assert found.keys() == REFUSED
    assert found["error"] == "malformed"
    place, message = found["place"], found["message"]
    assert message.startswith(f"{place}: ") if place else message
    assert (
        "expected" in message or "accepted" in message or "nearest" in message or "not 1" in message
    )
    json.dumps(found, allow_nan=False).encode("ascii")


@pytest.mark.parametrize("name", worked_names())
def test_mutated_case_is_accepted_or_refused_in_words(name: str) -> None:
    case = worked_case(name)
    accepted = 0
    for seed in range(300):
        found = check_case(mutated(case, Random(seed)))
        if found == {"ok": True}:
            accepted += 1
        else:
            assert_refused_in_words(found)
    # Both sorts must occur, or the changes are not worth making.
    assert 10 < accepted < 290


def test_random_json_is_refused_in_words() -> None:
    for seed in range(2000):
        found = check_case(random_json(Random(seed), 5))
        if found != {"ok": True}:
            assert_refused_in_words(found)


@pytest.mark.parametrize("name", worked_names())
def test_mutated_case_is_answered_or_refused(name: str) -> None:
    case = worked_case(name)
    for seed in range(40):
        found = answer_case(mutated(case, Random(1000 + seed)))
        text = json.dumps(found, allow_nan=False)
        if found.get("error") == "malformed":
            assert_refused_in_words(found)
        elif found.get("error") == "impossible":
            assert found["conflict"], text
        else:
            assert "posterior" in found, text


@pytest.mark.parametrize("name", worked_names())
def test_damaged_text_is_accepted_or_refused(name: str) -> None:
    text = (CASES / f"{name}.json").read_bytes()
    random = Random(7)
    for _ in range(60):
        damaged = bytearray(text)
        for _ in range(random.choice((1, 1, 2, 5))):
            at = random.randrange(len(damaged))
            damaged[at : at + random.randrange(3)] = random.randbytes(random.randrange(3))
        found = check_text(
            bytes(damaged[: random.choice((len(damaged), random.randrange(1, 400)))])
        )
        assert found == {"ok": True} or found.keys() == REFUSED


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"null",
        b"[]",
        b'"\\ud800"',
        b'{"\\ud800": 1}',
        b"[" * 900 + b"]" * 900,
        b'{"animals":' * 900 + b"1" + b"}" * 900,
        b'{"loci": [], "animals": [' + b'{"id": ' * 500 + b"1" + b"}" * 500 + b"]}",
        b'{"loci": [], "animals": [], "case": 1' + b"0" * 400 + b"}",
        b'{"loci": [], "animals": [], "case": 1e400}',
        b"\x00\x01\x02",
        b"\xff\xfe{\x00}\x00",
    ],
)
def test_strange_text_is_refused(text: bytes) -> None:
    assert check_text(text).keys() == REFUSED
    assert answer_text(text).keys() == REFUSED
