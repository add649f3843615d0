"""Small files, small functions, small folders."""

import ast
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.guards.tree import files, name_of

FUNCTION = 50
# About fifteen is what one looks through at a glance; at this number a folder is two.
FOLDER = 20


def lines(path: Path) -> int:
    return len(path.read_text(encoding="utf-8").splitlines())


@pytest.mark.parametrize(
    ("under", "suffix", "cap"),
    [
        ("keeper/", ".py", 400),
        ("genetics/", ".py", 500),
        ("templates/", ".html", 150),
        ("static/css/", ".css", 400),
        ("static/js/", ".js", 150),
    ],
)
def test_files_stay_under_their_cap(under: str, suffix: str, cap: int) -> None:
    sizes = {
        name_of(path): lines(path)
        for path in files(suffix, under=under)
        if "/migrations/" not in name_of(path)
    }
    assert {name: size for name, size in sizes.items() if size > cap} == {}


def functions(path: Path) -> Iterator[tuple[str, int]]:
    """Yield each function with the lines of its body, the docstring not counted."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            body = node.body[1:] if ast.get_docstring(node) is not None else node.body
            if body:
                yield node.name, (body[-1].end_lineno or 0) - body[0].lineno + 1


@pytest.mark.parametrize("under", ["keeper/", "genetics/", "manage.py"])
def test_functions_stay_under_their_cap(under: str) -> None:
    assert [
        f"{name_of(path)}: {name} has {size} lines"
        for path in files(".py", under=under)
        if "/migrations/" not in name_of(path)
        for name, size in functions(path)
        if size > FUNCTION
    ] == []


def test_folders_stay_under_their_cap() -> None:
    held = Counter(
        name_of(path.parent)
        for path in files(".py", under="keeper/")
        if "/migrations/" not in name_of(path)
    )
    assert {name: count for name, count in held.items() if count > FOLDER} == {}
