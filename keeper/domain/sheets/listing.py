"""The text of an offer: in the shorthand of the trade, and in full words.

Both are made of the standings alone, as a sheet is, and for somebody who may know of no person. So
neither says more than a sheet issued now would: figures are those of the standings, a source's bare
word is called that and has none, and of a disputed gene nothing is claimed.
"""

from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format

from keeper.discretion import Reader, read_by
from keeper.domain import inference
from keeper.domain.saying import wording
from keeper.domain.saying.figures import carrier_percent, percent
from keeper.domain.sheets.claims import genes_claimed
from keeper.domain.sheets.queries import Evidence, evidence
from keeper.domain.sheets.writes import for_anybody
from keeper.models import Account, Animal, Sex, Standing, Word

_MARKS = {Sex.MALE: "1.0", Sex.FEMALE: "0.1", Sex.UNKNOWN: "0.0.1"}
_STATED = "stated by its source, not tested here"
_ROUNDED = "Percentages are chances by its records, rounded down."
LICENCE = 80


@dataclass(frozen=True)
class Listing:
    """An offer in the shorthand of the trade, and in full words."""

    short: str
    full: str


def listing(animal: Animal, *, by: Account, licence: str = "") -> Listing:
    """Return the text of an offer; `licence` is a number that the place of sale asks for."""
    with read_by(Reader(people=False, prices=False)):
        known = evidence(animal)
        content = for_anybody(animal, by=by, on=timezone.localdate())
        licence = licence[:LICENCE].strip()
        return Listing(_short(known, content, licence), _full(content, licence))


def card(animal: Animal, *, by: Account, licence: str = "") -> dict[str, Any]:
    """Return the same in full words as a picture says it; `photo` is what a sheet tells of one."""
    today = timezone.localdate()
    with read_by(Reader(people=False, prices=False)):
        content = for_anybody(animal, by=by, on=today)
    told = content["animal"]
    lines = _claims(content) or [[content["no_claims"], ""]]
    lines += [["Shows", one] for one in content["shows"]]
    lines += [[one, "disputed, so nothing is claimed"] for one in content["disputed"]]
    lines += _harms(content)
    licence = licence[:LICENCE].strip()
    foot = [
        f"Licence {licence}." if licence else "",
        _ROUNDED if content["claims"] else "",
        f"As the records are on {date_format(today, 'j F Y')}.",
    ]
    return {
        "heading": " ".join(filter(None, (told["species"], told["code"]))),
        "below": f"{told['sex_words']}, {told['hatched']}",
        "lines": lines,
        "foot": " ".join(filter(None, foot)),
        "issued": content["issued"],
        "photo": content.get("photo", {}),
    }


# --- the shorthand -------------------------------------------------------------------------------


def _short(known: Evidence, content: dict[str, Any], licence: str) -> str:
    animal = content["animal"]
    genes = ", ".join(_gene(one) for one in genes_claimed(known)) or "no gene claimed"
    shows = [f"shows {one}" for one in content["shows"]]
    disputed = [f"nothing claimed of {one} (disputed)" for one in content["disputed"]]
    parts = [
        f"{_MARKS[Sex(animal['sex'])]} {animal['species']} {animal['code']}",
        animal["hatched"],
        "; ".join([genes, *shows, *disputed]),
        f"licence {licence}" if licence else "",
    ]
    return " · ".join(filter(None, parts))


def _gene(one: wording.Carried) -> str:
    """One gene: "visual Saltgrass (HAR)", "66 % poss het Quillwort (line not known)"."""
    standing = one.over_all
    name = _named(one)
    figure = carrier_percent(standing)
    match standing.word:
        case Word.VISUAL:
            return f"visual {name}" + (f", {figure} sure" if standing.none else "")
        case Word.PROVEN if wording.rests_on_one_look(standing):
            return _proven_once(standing, name)
        case Word.PROVEN:
            return f"proven {_copies(standing)}{name}"
        case Word.PARENTAGE | Word.DEDUCED:
            return f"{figure} {_copies(standing) or 'carrier '}{name}"
        case Word.TESTED:
            return f"{figure} {_copies(standing) or 'carrier '}{name} by a laboratory"
        case Word.LABORATORIES:
            return f"{figure} poss {_copies(standing) or 'carrier '}{name}, laboratories disagree"
        case Word.STATED:
            return f"{name} {_STATED}"
        case Word.CLEAN:
            return f"{name} tested clean so far, {figure} left"
        case _:
            return f"{figure} poss {_copies(standing) or 'carrier '}{name}"


def _named(one: wording.Carried) -> str:
    if one.lines:
        return f"{one.trait.name} ({' / '.join(line.code for line in one.lines)})"
    return f"{one.trait.name} ({wording.LINE_NOT_KNOWN})" if one.has_lines else one.trait.name


def _copies(standing: Standing) -> str:
    """ "het " where it can have one copy alone; else nothing."""
    return "het " if standing.two == 0 else ""


def _proven_once(standing: Standing, name: str) -> str:
    """A proof by one look is worth what is left if looks can be misread."""
    try:
        carries = inference.if_misread(standing.animal, standing.trait, standing.line)
    except inference.Unanswerable:
        carries = None
    seen = f"{name}, shown by 1 hatchling looked at once"
    return seen if carries is None else f"{percent(carries)} {_copies(standing)}{seen}"


# --- full words ----------------------------------------------------------------------------------


def _full(content: dict[str, Any], licence: str) -> str:
    animal = content["animal"]
    name = f" “{animal['name']}”" if animal["name"] else ""
    latin = f" ({animal['scientific_name']})" if animal["scientific_name"] else ""
    lines = [
        f"{animal['species']}{latin}, {animal['code']}{name}: {animal['sex_words']}, "
        f"{animal['hatched']}.",
        *(f"{name}: {said}." for name, said in _claims(content)),
        *([] if content["claims"] else [content["no_claims"]]),
    ]
    if content["shows"]:
        lines.append(f"Shows: {'; '.join(content['shows'])}.")
    if content["disputed"]:
        lines.append(f"Disputed, so nothing is claimed: {'; '.join(content['disputed'])}.")
    lines += [": ".join(one) for one in _harms(content)]
    if licence:
        lines.append(f"Licence {licence}.")
    if content["claims"]:
        lines.append(_ROUNDED)
    return "\n".join(lines)


def _claims(content: dict[str, Any]) -> list[list[str]]:
    """What is claimed: each gene by name, and what is said of it."""
    return [[_row_named(row), _row_said(row)] for row in content["claims"]]


def _harms(content: dict[str, Any]) -> list[list[str]]:
    return [
        [f"Known harm, {row['trait']}", f"{row['text']} {row['applies']}"]
        for row in content["harm"]
    ]


def _row_named(row: dict[str, Any]) -> str:
    lines = " / ".join(row["lines"])
    return f"{row['trait']}, {f'line {lines}' if lines else row['line_note']}".removesuffix(", ")


def _row_said(row: dict[str, Any]) -> str:
    words = _STATED if row["word"] == Word.STATED else row["words"]
    return "; ".join(filter(None, (words, row["beside"], row["mixed"])))
