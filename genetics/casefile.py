"""Case files: read, write, check and answer them.

>>> answer = check_case({"loci": [{"id": "sg", "alleles": ["+", "har"]}], "animals": []})
>>> answer
{'ok': True}
"""

from __future__ import annotations

from collections.abc import Callable

from genetics.case_faults import case_schema
from genetics.case_reader import read_case
from genetics.case_text import parse_text
from genetics.case_writer import write_case
from genetics.errors import BeyondExact, ImpossibleEvidence, MalformedCase
from genetics.json_values import JsonObject

__all__ = [
    "answer_case",
    "answer_text",
    "case_schema",
    "check_case",
    "check_text",
    "parse_text",
    "read_case",
    "write_case",
]


def answer_case(
    data: object,
    *,
    limit: float | None = None,
    notice: Callable[[str], None] = lambda text: None,
) -> JsonObject:
    """All answers that the contract promises for the JSON of a case, in plain Python types.

    `limit` is the number of table cells up to which inference stays exact.  A malformed case
    gives `{"error": "malformed", "message", "place"}`, impossible evidence
    `{"error": "impossible", "message", "conflict"}`, a case that is too large to answer at all
    `{"error": "beyond", "message"}`.  `notice` is told before a case is answered by sampling.
    """
    try:
        case = read_case(data)
        from genetics.answers import answer
        from genetics.solving import CELLS

        return answer(case, limit=CELLS if limit is None else limit, notice=notice)
    except BeyondExact as fault:
        return {"error": "beyond", "message": str(fault)}
    except MalformedCase as fault:
        return _malformed(fault)
    except ImpossibleEvidence as fault:
        return {
            "error": "impossible",
            "message": str(fault),
            "conflict": [str(name) for name in fault.conflict],
        }


def answer_text(
    raw: bytes,
    *,
    limit: float | None = None,
    notice: Callable[[str], None] = lambda text: None,
) -> JsonObject:
    """As `answer_case`, for the bytes of a case file."""
    try:
        data = parse_text(raw)
    except MalformedCase as fault:
        return _malformed(fault)
    return answer_case(data, limit=limit, notice=notice)


def check_case(data: object) -> JsonObject:
    """`{"ok": True}` where a case is well formed, else the same error as `answer_case`."""
    try:
        read_case(data)
    except MalformedCase as fault:
        return _malformed(fault)
    return {"ok": True}


def check_text(raw: bytes) -> JsonObject:
    """As `check_case`, for the bytes of a case file."""
    try:
        data = parse_text(raw)
    except MalformedCase as fault:
        return _malformed(fault)
    return check_case(data)


def _malformed(fault: MalformedCase) -> JsonObject:
    return {"error": "malformed", "message": str(fault), "place": fault.place}
