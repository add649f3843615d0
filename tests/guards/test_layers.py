"""One direction of imports: genetics stands alone; models, domain, forms, views follow."""

import subprocess
import sys

import pytest

import genetics
from tests.guards.tree import ROOT, attributes_of, files, imports, is_or_is_inside, name_of

BRIDGE = "keeper/domain/inference/"

# A layer may import those before it and itself, never one after it.
LAYERS = ("keeper.models", "keeper.domain", "keeper.forms", "keeper.views")

# Everything that rests on no layer of ours, so that every layer may rest on it.
FOUNDATIONS = ("keeper/serving/",)


def broken(under: str, forbidden: tuple[str, ...], *, but_not: str = "") -> list[str]:
    return [
        f"{name_of(path)} imports {name}"
        for path in files(".py", under=under)
        if not (but_not and name_of(path).startswith(but_not))
        for name in imports(path)
        if any(is_or_is_inside(name, package) for package in forbidden)
    ]


def test_genetics_imports_nothing_of_ours_nor_django() -> None:
    assert broken("genetics/", ("keeper", "tests", "django", "sqlite3", "psycopg")) == []


def test_only_the_bridge_imports_genetics() -> None:
    assert broken("keeper/", ("genetics",), but_not=BRIDGE) == []


def test_the_bridge_asks_only_for_what_genetics_makes_public() -> None:
    # `import genetics`, and no module of it; what it then uses has a name there.
    inner = [
        f"{name_of(path)} imports {name}"
        for path in files(".py", under="keeper/")
        for name in imports(path)
        if name.startswith("genetics.")
    ]
    assert inner == []
    assert [
        f"{name_of(path)} uses genetics.{name}"
        for path in files(".py", under=BRIDGE)
        for name in attributes_of("genetics", path)
        if name not in dir(genetics)
    ] == []


@pytest.mark.parametrize("position", range(len(LAYERS)), ids=LAYERS)
def test_layers_import_only_what_comes_before(position: int) -> None:
    under = LAYERS[position].replace(".", "/") + "/"
    later = LAYERS[position + 1 :]
    # Pages sit on top: nothing below them may know an address, a right or page data.
    above = ("keeper.urls", "keeper.access", "keeper.contexts") if "keeper.views" in later else ()
    assert broken(under, (*later, *above)) == []


@pytest.mark.parametrize("under", FOUNDATIONS)
def test_foundations_import_no_layer(under: str) -> None:
    assert broken(under, LAYERS) == []


def test_no_code_imports_tests() -> None:
    assert broken("keeper/", ("tests",)) == []


_WITHOUT_DJANGO = """
import sys
class Refuse:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {"django", "keeper"}:
            raise ImportError(f"{name} must not be needed")
sys.meta_path.insert(0, Refuse())
import importlib, pkgutil, genetics
for module in pkgutil.walk_packages(genetics.__path__, "genetics."):
    if not module.name.endswith("__main__"):
        importlib.import_module(module.name)
print("alone")
"""

_CHECKED = """
import sys
from django.core.management import execute_from_command_line
execute_from_command_line(["manage.py", "check"])
print(sorted({"numpy", "scipy", "sympy", "pandas", "numba"} & sys.modules.keys()))
"""


def printed_by(code: str) -> str:
    result = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert result.returncode == 0, result.stderr
    return result.stdout.splitlines()[-1]


def test_genetics_imports_without_django() -> None:
    assert printed_by(_WITHOUT_DJANGO) == "alone"


def test_manage_check_loads_no_number_library() -> None:
    # Each costs a good part of a second at every start; they are loaded when first needed.
    assert printed_by(_CHECKED) == "[]"
