"""How a sheet is read: every word of certainty that it uses, explained, and no other."""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from keeper.models import Word

_FIGURES = "Percentages are chances, rounded down; what is left after clean tests is rounded up."
_BARS = "In the bars, ink is two copies, hatching one copy, empty none."
_MARK = "A mark below a bar stands at the chance by the parents alone."
_CODES = "Capitals after a gene name the line that it came by."

# What is looked for on the sheet, in the order in which it is explained, and what it means.
_MEANINGS: Mapping[str, str] = {
    r"\bvisual\b": "“visual” was seen",
    r"\bby parentage\b": "“by parentage” had a visual parent",
    r"\bproven\b": "“proven” has produced a visual",
    Word.DEDUCED.label: "“must carry it”: the records leave nothing else",
    Word.TESTED.label: "“found by a laboratory” was tested, and not by us",
    Word.LABORATORIES.label: "“laboratories disagree”: their results contradict each other",
    r"\bstated\b": "“stated” is a source's word and was not tested here",
    r"\bhet\b": "“het” has one copy and does not show it",
    r"\bpossible het\b": "“possible het” is het with that chance, else without it",
    r"% carries it\b": "“carries it” has one copy or two",
    Word.CLEAN.label: "“tested clean so far”: so many young could have shown it and did not",
    r"\bas telling as\b": "“as telling as” says how many young with an even chance to show it tell "
    "as much",
    r"\bcop(?:y|ies)\b": "an animal has two places for a gene; a “copy” fills one of them",
    r"\bby its parents alone\b": "“by its parents alone”: before its own young and tests",
    r"\bline not known\b": "“line not known”: nobody has said or shown which it is",
    r"\bestimate\b": "an “estimate” is drawn at random, with its error beside it",
    r"\bdisputed\b": "“disputed”: records contradict each other, so nothing is claimed",
}


def reading(content: Mapping[str, Any]) -> str:
    """Return the legend of a sheet: how its figures and bars are read, and the words it uses."""
    claims: Sequence[Mapping[str, Any]] = content["claims"]
    strips = [row["strip"] for row in claims if row["strip"] is not None]
    said = "\n".join(_texts([claims, content["parents"], content["shows"]]))
    if content["disputed"]:
        said += "\ndisputed"
    words = [means for word, means in _MEANINGS.items() if re.search(word, said, re.IGNORECASE)]
    told = "; ".join(words)
    parts = [
        _FIGURES,
        _BARS if strips else "",
        _MARK if any(strip["marker"] is not None for strip in strips) else "",
        _CODES if any(row["lines"] or row["parts"] for row in claims) else "",
        f"{told[0].upper()}{told[1:]}." if told else "",
    ]
    return " ".join(filter(None, parts))


def _texts(value: object) -> Iterable[str]:
    """Every text in plain data, however deep it lies."""
    match value:
        case str():
            yield value
        case Mapping():
            for key, one in value.items():
                if key not in {"word", "code", "lines", "line_names"}:
                    yield from _texts(one)
        case list() | tuple():
            for one in value:
                yield from _texts(one)
