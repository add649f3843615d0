"""What the science and the bridge to it leave without a type, each with the reason."""

import ast
from pathlib import Path

import pytest

from tests.guards.tree import files, name_of

# File → how often it says `Any`, and why.
WITHOUT_TYPES = {
    "genetics/animal_table.py": (
        3,
        "columns differ in type; a tuple of any length has one for all",
    ),
    "genetics/columns.py": (3, "the same columns, turned from records"),
    "genetics/explain.py": (1, "what sorts a date is that date's own business"),
    "genetics/json_values.py": (1, "JSON: the schema says what it may be, at run time"),
    "genetics/model.py": (
        1,
        "einsum takes arrays and lists of axes in turn, which NumPy does not type",
    ),
    "genetics/spaces.py": (2, "how a genotype is nested depends on the kind of space"),
    "genetics/subproblems.py": (5, "pickles carry a population field by field, whatever each is"),
    "genetics/worksheet.py": (1, "SymPy has no types"),
    "keeper/domain/inference/reading/looks.py": (1, "columns of a query differ in type"),
    "keeper/domain/inference/reading/prepared.py": (
        11,
        "columns of any query, by Django's compiler",
    ),
    "keeper/domain/inference/walking/reached.py": (6, "a mapping of rows whose own types vary"),
    "keeper/domain/inference/reading/rows.py": (1, "columns of a query differ in type"),
    "keeper/domain/inference/standings/solving.py": (5, "the client of `distributed` has no types"),
    "keeper/domain/inference/standings/values.py": (2, "columns of a table differ in type"),
}


def untyped(path: Path) -> int:
    """How often a file says `Any`, imports left out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return sum(isinstance(node, ast.Name) and node.id == "Any" for node in ast.walk(tree))


@pytest.mark.parametrize("under", ["genetics/", "keeper/domain/inference/"])
def test_any_stands_only_where_a_reason_is_given(under: str) -> None:
    found = {name_of(path): untyped(path) for path in files(".py", under=under)}
    assert {name: count for name, count in found.items() if count} == {
        name: count for name, (count, _) in WITHOUT_TYPES.items() if name.startswith(under)
    }
