"""The compiled loops are the interpreted ones: same source, same numbers."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from genetics import compiled
from genetics.casefile import answer_case

CASES = sorted((Path(__file__).parents[2] / "fixtures" / "cases").glob("*.json"))


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_compiled_answers_equal_interpreted(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    case = json.loads(path.read_text(encoding="utf-8"))
    monkeypatch.setattr(compiled, "loops", lambda module, work: module)
    for name in ("model", "network"):
        module = __import__(f"genetics.{name}", fromlist=["loops"])
        monkeypatch.setattr(module, "loops", lambda module, work: module)
    interpreted = answer_case(case)
    for name in ("model", "network"):
        module = __import__(f"genetics.{name}", fromlist=["loops"])
        monkeypatch.setattr(module, "loops", lambda module, work: compiled._compile_once(module))
    assert answer_case(case) == interpreted
