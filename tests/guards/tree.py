"""What belongs to the project: its files and their imports."""

import ast
import subprocess
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# Written by others and kept as they are, with their licences.
FOREIGN = ("static/vendor/", "static/fonts/", "tests/journeys/vendor/")
_NEVER_OURS = {
    *(".git", ".venv", "data", "__pycache__", "test-results"),
    *(".pytest_cache", ".mypy_cache", ".ruff_cache", ".hypothesis"),
}


def top_level() -> set[str]:
    """Return the names in the project's folder, without what is made while running."""
    return {path.name for path in ROOT.iterdir()} - _NEVER_OURS


def files(*suffixes: str, under: str = "") -> list[Path]:
    """Return the project's own files, by git where there is one, else by looking."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    if listed.returncode == 0 and listed.stdout:
        found = (ROOT / name for name in listed.stdout.split("\0") if name)
    else:
        found = (path for path in ROOT.rglob("*") if not _NEVER_OURS & set(path.parts))
    return sorted(
        path
        for path in found
        if path.is_file()
        and name_of(path).startswith(under)
        and not name_of(path).startswith(FOREIGN)
        and (not suffixes or path.suffix in suffixes)
    )


def name_of(path: Path) -> str:
    """Return the path as it is written in the project: `keeper/urls.py`."""
    return path.relative_to(ROOT).as_posix()


@cache
def imports(path: Path) -> tuple[str, ...]:
    """Return the dotted name of everything a file imports, wherever in it the import stands."""
    return tuple(_imports(path))


def _imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            if node.level:
                package = name_of(path).split("/")[: -node.level]
                module = ".".join([*package, *filter(None, [module])])
            yield module
            yield from (f"{module}.{alias.name}" for alias in node.names)


def is_or_is_inside(name: str, package: str) -> bool:
    """Return whether a dotted name is the package or something in it."""
    return name == package or name.startswith(f"{package}.")


def attributes_of(module: str, path: Path) -> Iterator[str]:
    """Yield what a file uses of a module that it imports by name, in annotations too."""
    trees = [ast.parse(path.read_text(encoding="utf-8"))]
    while trees:
        for node in ast.walk(trees.pop()):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                if node.value.id == module:
                    yield node.attr
            elif isinstance(node, ast.Constant) and str(node.value).startswith(f"{module}."):
                trees.append(ast.parse(str(node.value)))
