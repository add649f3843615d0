"""One direction of imports: genetics stands alone; models, domain, pages follow.

Pages are rooms by area. Areas meet in `keeper/domain`, never in each other's pages, and share
what is in `keeper/pages/frame`, which knows none of them.
"""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import genetics
from tests.guards.tree import ROOT, attributes_of, files, imports, is_or_is_inside, name_of

BRIDGE = "keeper/domain/inference/"
FACADE = "keeper.domain.inference"

# A layer may import those before it and itself, never one after it.
LAYERS = ("keeper.models", "keeper.domain", "keeper.pages")

# Everything that rests on no layer of ours, so that every layer may rest on it.
FOUNDATIONS = ("keeper/serving/",)

# All of ours that the bridge may rest on; everything else of the domain may ask the bridge.
BELOW_THE_BRIDGE = (
    *("keeper.models", "keeper.domain.saying"),
    *("keeper.domain.book.touched", "keeper.domain.book.snapshots"),
)

# Inside an area a file may import those before it and its own kind.
KINDS = ("forms", "page", "views", "routes")


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
    above = ("keeper.urls", "keeper.access") if later else ()
    assert broken(under, (*later, *above)) == []


@pytest.mark.parametrize("under", FOUNDATIONS)
def test_foundations_import_no_layer(under: str) -> None:
    assert broken(under, LAYERS) == []


def rooms() -> list[Path]:
    return files(".py", under="keeper/pages/")


def room(module: str) -> str:
    """Return the package of the pages that a module is in, or that it is."""
    return ".".join(module.split(".")[:3])


def module_of(path: Path) -> str:
    return name_of(path).removesuffix(".py").replace("/", ".")


def modules(path: Path) -> set[str]:
    """Return the files and packages that a file imports from, of ours, by dotted name."""
    return {name for name in imports(path) if is_module(name)}


def is_module(name: str) -> bool:
    at = ROOT / name.replace(".", "/")
    return name.startswith("keeper.") and (at.with_suffix(".py").exists() or at.is_dir())


def test_areas_meet_in_the_domain_and_not_in_pages() -> None:
    assert [
        f"{name_of(path)} imports {name}"
        for path in rooms()
        for name in imports(path)
        if is_or_is_inside(name, "keeper.pages")
        and name != "keeper.pages"
        and not any(
            is_or_is_inside(name, own) for own in (room(module_of(path)), "keeper.pages.frame")
        )
    ] == []


def test_frame_knows_no_area() -> None:
    assert [
        f"{name_of(path)} imports {name}"
        for path in files(".py", under="keeper/pages/frame/")
        for name in imports(path)
        if is_or_is_inside(name, "keeper.pages") and not is_or_is_inside(name, "keeper.pages.frame")
    ] == []


def kind_of(path: Path) -> str:
    """Return what a file of the pages holds, told by its content where its name does not."""
    if path.name == "routes.py":
        return "routes"
    body = ast.parse(path.read_text(encoding="utf-8")).body
    if any(is_view(node) for node in body):
        return "views"
    taken = set(imports(path))
    return "forms" if any(is_or_is_inside(name, "django.forms") for name in taken) else "page"


def is_view(node: ast.stmt) -> bool:
    if isinstance(node, ast.FunctionDef):
        return bool(node.args.args) and node.args.args[0].arg == "request"
    bases = node.bases if isinstance(node, ast.ClassDef) else []
    return any(isinstance(base, ast.Name) and base.id.endswith("View") for base in bases)


@pytest.mark.parametrize("kind", KINDS)
def test_inside_a_room_forms_page_views_routes_follow_each_other(kind: str) -> None:
    kinds = {module_of(path): kind_of(path) for path in rooms() if path.name != "__init__.py"}
    later = KINDS[KINDS.index(kind) + 1 :]
    assert kind in kinds.values()
    assert [
        f"{path} imports {name}"
        for path, found in kinds.items()
        if found == kind
        for name in modules(ROOT / f"{path.replace('.', '/')}.py")
        if kinds.get(name) in later and room(name) == room(path)
    ] == []


def test_routes_are_imported_by_the_addresses_alone() -> None:
    assert {
        name_of(path)
        for path in files(".py", under="keeper/")
        for name in modules(path)
        if name.startswith("keeper.pages.") and name.endswith(".routes")
    } == {"keeper/urls.py"}


def test_nobody_goes_past_the_facade_of_the_bridge() -> None:
    assert [
        f"{name_of(path)} imports {name}"
        for path in files(".py", under="keeper/")
        if not name_of(path).startswith(BRIDGE)
        for name in modules(path)
        if is_or_is_inside(name, FACADE) and name != FACADE
    ] == []


@pytest.mark.parametrize(
    ("under", "allowed"),
    [(BRIDGE, (FACADE, *BELOW_THE_BRIDGE)), ("keeper/domain/saying/", BELOW_THE_BRIDGE[:2])],
)
def test_what_all_rest_on_rests_on_little(under: str, allowed: tuple[str, ...]) -> None:
    assert [
        f"{name_of(path)} imports {name}"
        for path in files(".py", under=under)
        for name in modules(path)
        # A package is named on the way to what is in it.
        if not any(is_or_is_inside(name, one) or one.startswith(f"{name}.") for one in allowed)
    ] == []


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
