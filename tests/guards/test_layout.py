"""The house as DEVELOPERS.md draws it, and the locks as pyproject.toml asks for them."""

import re
import tomllib
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet

from tests.guards.tree import ROOT, top_level

TOP_LEVEL = {
    *(".ci", ".lock", "fixtures", "genetics", "keeper", "static", "templates", "tests"),
    *(".gitignore", "DEVELOPERS.md", "README.md", "manage.py", "pyproject.toml"),
}


def project() -> dict[str, Any]:
    return dict(tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"])


def test_top_level_holds_nothing_else() -> None:
    assert top_level() == TOP_LEVEL


def map_of_developers() -> list[str]:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.partition("## Map")[2].partition("\n## ")[0]
    return re.findall(r"^\| `([^`]+)`", section, re.MULTILINE)


def test_developers_map_names_what_exists() -> None:
    named = map_of_developers()
    assert len(named) > 20
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_developers_map_leaves_no_package_out() -> None:
    covered = {name.rstrip("/") for name in map_of_developers()}
    packages = {
        f"keeper/{path.name}"
        for path in (ROOT / "keeper").iterdir()
        if path.is_dir() and path.name != "__pycache__"
    }
    assert packages | {name for name in TOP_LEVEL if (ROOT / name).is_dir()} <= covered


# A path may be written from here on, where it is clear from the words around it.
_FROM = ("", "keeper", "keeper/domain", "fixtures")
_PATH = re.compile(r"[\w./*-]+(?:\.(?:py|html|css|js|json|md|toml|typ|txt)|/)")


def paths_in(text: str) -> list[str]:
    """Return what stands in backticks and is a path; one with an `<area>` in it is a rule."""
    return [name for name in re.findall(r"`([^`\n]+)`", text) if _PATH.fullmatch(name)]


def exists(name: str, under: tuple[str, ...]) -> bool:
    return any(any((ROOT / start).glob(name.rstrip("/"))) for start in under)


def test_developers_paths_exist() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    before, heading, rest = text.partition("## Inside `genetics`")
    engine, _, after = rest.partition("\n## ")
    named, inside = paths_in(before + after), paths_in(engine)
    assert heading and len(named) > 50 and len(inside) > 20
    assert [name for name in named if "/" in name and not exists(name, _FROM)] == []
    assert [name for name in inside if not exists(name, ("", "genetics"))] == []


def test_manage_py_and_pyproject_agree_on_the_python() -> None:
    source = (ROOT / "manage.py").read_text(encoding="utf-8")
    match = re.search(r"^OLDEST, TOO_NEW = \((\d+), (\d+)\), \((\d+), (\d+)\)$", source, re.M)
    assert match
    oldest, too_new = ".".join(match.groups()[:2]), ".".join(match.groups()[2:])
    assert project()["requires-python"] == f">={oldest},<{too_new}"


def locked(kind: str) -> dict[str, list[str]]:
    """Return name → versions of a lock (several where Pythons or systems differ)."""
    found: dict[str, list[str]] = {}
    text = (ROOT / ".lock" / f"{kind}.txt").read_text(encoding="utf-8")
    for name, version in re.findall(r"^([\w.-]+)(?:\[[^\]]+\])?==([\w.]+)", text, re.MULTILINE):
        found.setdefault(name.lower(), []).append(version)
    return found


def unmet(requirements: list[str], kind: str) -> list[str]:
    versions = locked(kind)
    parsed = [Requirement(line) for line in requirements]
    return [
        str(wanted)
        for wanted in parsed
        if not versions.get(wanted.name.lower())
        or not all(
            version in SpecifierSet(str(wanted.specifier)) for version in versions[wanted.name]
        )
    ]


def test_locks_hold_what_pyproject_asks_for() -> None:
    run = project()["dependencies"]
    assert unmet(run, "run") == []
    extras = project()["optional-dependencies"]
    assert unmet([*run, *extras["test"], *extras["workers"]], "test") == []
    assert unmet([*run, *extras["workers"]], "workers") == []


@pytest.mark.parametrize(
    ("smaller", "larger"), [("run", "test"), ("run", "workers"), ("workers", "test")]
)
def test_a_larger_lock_contains_the_smaller(smaller: str, larger: str) -> None:
    # So that an environment made for tests can serve as well, and workers are added to any.
    versions = locked(larger)
    assert {
        name: found for name, found in locked(smaller).items() if versions.get(name) != found
    } == {}
