"""What the package offers is typed as it is loaded, and nothing stands in the way of a name."""

import ast
import pkgutil
from pathlib import Path

import genetics

FILE = Path(genetics.__file__)


def loaded_from() -> dict[str, str]:
    """Each public name with the module that it is loaded from."""
    tree = ast.parse(FILE.read_text(encoding="utf-8"))
    home = next(
        ast.literal_eval(node.value)
        for node in tree.body
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "_HOME"
    )
    return {name: module for module, names in home.items() for name in names}


def test_every_name_is_typed_as_what_is_loaded() -> None:
    tree = ast.parse(FILE.read_text(encoding="utf-8"))
    typed = {
        alias.asname: f"{node.module}.{alias.name}"
        for block in tree.body
        if isinstance(block, ast.If)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert typed == {name: f"genetics.{module}.{name}" for name, module in loaded_from().items()}


def test_every_name_can_be_loaded() -> None:
    assert dir(genetics) == sorted(loaded_from())
    assert [name for name in dir(genetics) if not hasattr(genetics, name)] == []


def test_no_name_is_that_of_a_module() -> None:
    # A module that is imported would take its place.
    modules = {module.name for module in pkgutil.iter_modules(genetics.__path__)}
    assert modules & set(dir(genetics)) == set()
