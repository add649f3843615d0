"""Every refusal says what to do next: it holds a request, not a verdict alone."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

KEEPER = Path(__file__).parents[2] / "keeper"
RAISED = ("Refused", "ValidationError")
# What a sentence, or a clause of one, begins with that asks for something.
_VERBS = (
    "add|ask|begin|call|change|check|choose|compare|correct|count|decide|enter|finish|give|keep|"
    "leave|"
    "look|lower|make|move|name|note|open|part|point|prove|read|record|reopen|restore|say|scan|see|"
    "send|start|stop|take|type|undo|withdraw|write"
)
_BEFORE = r"(?:^|[.:;,(] |\b(?:look|again|and|or) )(?:and )?(?:first )?"
ASKS = re.compile(rf"{_BEFORE}(?:{_VERBS})\b", re.IGNORECASE)
# What is done already asks for nothing: it says where that stands. A question asks.
DONE = re.compile(r"\balready[:.] ?(?:it stands|nothing is left|the daybook)|: it stands|\?$", re.I)


def _text(node: ast.expr) -> str | None:
    """The words of a message, with “…” for what is put into them; None if it is made elsewhere."""
    match node:
        case ast.Constant(value=str(words)):
            return words
        case ast.JoinedStr(values=parts):
            return "".join(
                str(one.value) if isinstance(one, ast.Constant) else "…" for one in parts
            )
        case ast.Dict(values=values):
            return " ".join(filter(None, map(_text, values))) or None
        case _:
            return None


def _name(called: ast.expr) -> str:
    match called:
        case ast.Attribute(attr=name) | ast.Name(id=name):
            return name
        case _:
            return ""


def _messages(tree: ast.AST) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        called = _name(node.func)
        told = node.args[:1] if called in RAISED else node.args[1:] if called == "add_error" else ()
        for one in told:
            words = _text(one)
            if words and " " in words:
                yield node.lineno, words


def silent(source: str) -> list[tuple[int, str]]:
    """Return the refusals of a file that ask for nothing."""
    return [
        (line, words)
        for line, words in _messages(ast.parse(source))
        if not ASKS.search(words) and not DONE.search(words)
    ]


@pytest.mark.parametrize(
    "path", sorted(KEEPER.rglob("*.py")), ids=lambda path: str(path.relative_to(KEEPER))
)
def test_every_refusal_says_what_to_do(path: Path) -> None:
    assert silent(path.read_text(encoding="utf-8")) == []


def test_a_verdict_alone_is_found() -> None:
    assert silent('raise Refused("That day is past.")') == [(1, "That day is past.")]
    assert silent('form.add_error("on", f"{day} is past.")') == [(1, "… is past.")]
    assert silent('raise Refused("That day is past. Choose a later day.")') == []
