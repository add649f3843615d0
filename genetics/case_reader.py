"""From the JSON of a case file to records.

The reader refuses exactly what the JSON Schema refuses, but does not name the fault: that is
left to the schema, which is far too slow to run over every case.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from fractions import Fraction
from typing import TypeVar

from genetics.case_faults import shape_fault
from genetics.checks import MOST_HATCHLINGS
from genetics.json_values import Json, JsonObject
from genetics.population import (
    Animal,
    Case,
    Clutch,
    Couple,
    FounderRow,
    Goal,
    Interval,
    JointQuestion,
    Linkage,
    Locus,
    Number,
    OffspringQuestion,
    Population,
    Questions,
    Retained,
    SameLocus,
    Sighting,
    Statement,
    TallyLine,
    Trait,
    Viability,
)
from genetics.validation import validate_questions

T = TypeVar("T")

_FRACTION = re.compile(r"[0-9]+(/0*[1-9][0-9]*)?")
_LONGEST_FRACTION = 100
HALF = Fraction(1, 2)
_SEEN = {True: Sighting(True), False: Sighting(False)}


def _names_of(record: type[Json]) -> frozenset[str]:
    return frozenset(inspect.get_annotations(record))


_CASE = _names_of(Population) | {"case", "ask"}
_LOCUS = _names_of(Locus)
_LINKAGE = _names_of(Linkage)
_INTERVAL = _names_of(Interval)
_VIABILITY = _names_of(Viability)
_TRAIT = _names_of(Trait)
_SIGHTING = _names_of(Sighting)
_ROW = _names_of(FounderRow)
_ANIMAL = _names_of(Animal)
_STATEMENT = _names_of(Statement)
_COUPLE = _names_of(Couple)
_TALLY = _names_of(TallyLine)
_CLUTCH_COUPLE = ("dam", "sire", "retained")
_CLUTCH = _names_of(Clutch) - {"stated_candidates"} | {*_CLUTCH_COUPLE}
_SAME_LOCUS = _names_of(SameLocus)
_ASK = _names_of(Questions)
_JOINT = _names_of(JointQuestion)
_OFFSPRING = _names_of(OffspringQuestion)
_GOAL = _names_of(Goal)


class _Misshapen(Exception):
    """A value is not of the shape that the schema states."""


def read_case(data: object) -> Case:
    """The records that the JSON of a case file (as Python values) states.

    Fractions in strings become `Fraction`; other numbers stay as they are.

    Raises:
        MalformedCase: the data break the schema or contradict the contract; names the place.
    """
    try:
        fields = _fields(data, _CASE, "loci", "animals")
        _one_of(fields, "case", (1,))
        determination = _one_of(fields, "sex_determination", ("none", "XY", "ZW"))
        for name in _CASE - {"case", "sex_determination", "background", "ask", "trust", "females"}:
            _expect(isinstance(fields.get(name, []), list))
        for name in ("background", "ask", "trust"):
            _expect(isinstance(fields.get(name, {}), dict))
    except _Misshapen:
        raise shape_fault(_outline(data), "case", "") from None
    # The shape of the whole comes first, then its meaning.
    background = fields.get("background", {})
    records: JsonObject = {
        "loci": _section(fields, "loci", "locus", _locus),
        "linkage": _section(fields, "linkage", "linkage", _linkage),
        "viability": _section(fields, "viability", "viability", _viability),
        "traits": _section(fields, "traits", "trait", _trait),
        "background": _field(background, "numbers_by_locus", _by_locus, "background"),
        "animals": _section(fields, "animals", "animal", _animal),
        "clutches": _section(fields, "clutches", "clutch", _clutch),
        "same_locus": _section(fields, "same_locus", "same_locus", _same_locus),
        "trust": _field(fields.get("trust", {}), "numbers", _numbers, "trust"),
    }
    ask = _field(fields.get("ask", {}), "ask", _ask, "ask")
    females = _field(fields.get("females", HALF), "number", _share, "females")
    population = Population(sex_determination=determination, females=females, **records)
    validate_questions(population, ask)
    return Case(population, ask)


def _outline(data: object) -> object:
    """The case with its lists and objects emptied, as only its own fields are at fault."""
    if not isinstance(data, dict):
        return data
    return {
        name: [] if isinstance(value, list) else {} if isinstance(value, dict) else value
        for name, value in data.items()
    }


def _section(
    fields: JsonObject, name: str, definition: str, read: Callable[[Json], T]
) -> tuple[T, ...]:
    records: list[T] = []
    raw: Json = None
    try:
        for raw in fields.get(name, ()):
            records.append(read(raw))
    except _Misshapen:
        raise shape_fault(raw, definition, f"{name}[{len(records)}]") from None
    return tuple(records)


def _field(raw: Json, definition: str, read: Callable[[Json], T], place: str) -> T:
    try:
        return read(raw)
    except _Misshapen:
        raise shape_fault(raw, definition, place) from None


def _expect(holds: bool) -> None:
    if not holds:
        raise _Misshapen


def _fields(raw: Json, accepted: frozenset[str], *required: str) -> JsonObject:
    if not isinstance(raw, dict) or not raw.keys() <= accepted:
        raise _Misshapen
    for name in required:
        if name not in raw:
            raise _Misshapen
    return raw


def _one_of(fields: JsonObject, name: str, accepted: tuple[Json, ...]) -> Json:
    """The value of a field, one of those accepted; the first where the field is left out."""
    value = fields.get(name, accepted[0])
    # `True == 1` in Python, but true is not 1 in JSON.
    if isinstance(value, bool) or value not in accepted:
        raise _Misshapen
    return value


def _name(raw: Json) -> str:
    if not isinstance(raw, str) or not raw:
        raise _Misshapen
    return raw


def _text(raw: Json) -> str:
    if not isinstance(raw, str):
        raise _Misshapen
    return raw


def _name_or_none(raw: Json) -> str | None:
    return None if raw is None else _name(raw)


def _boolean(raw: Json) -> bool:
    if not isinstance(raw, bool):
        raise _Misshapen
    return raw


def _number(raw: Json) -> Number:
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        return raw
    if isinstance(raw, str) and len(raw) <= _LONGEST_FRACTION and _FRACTION.fullmatch(raw):
        return Fraction(raw)
    raise _Misshapen


def _share(raw: Json) -> Number:
    return raw if isinstance(raw, Fraction) else _number(raw)


def _hatchlings(raw: Json) -> int:
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise _Misshapen
    if not 0 <= raw <= MOST_HATCHLINGS or raw != int(raw):
        raise _Misshapen
    return int(raw)


def _many(raw: Json, read: Callable[[Json], T], least: int = 0) -> tuple[T, ...]:
    if not isinstance(raw, list) or len(raw) < least:
        raise _Misshapen
    return tuple(map(read, raw))


def _pair(raw: Json) -> tuple[str, str]:
    names = _many(raw, _name)
    if len(names) != 2:
        raise _Misshapen
    return names


def _names(raw: Json) -> tuple[str, ...]:
    return _many(raw, _name)


def _table(raw: Json, read: Callable[[Json], T]) -> dict[str, T]:
    if not isinstance(raw, dict):
        raise _Misshapen
    return {_text(name): read(value) for name, value in raw.items()}


def _numbers(raw: Json) -> dict[str, Number]:
    return _table(raw, _number)


def _by_locus(raw: Json) -> dict[str, dict[str, Number]]:
    return _table(raw, _numbers)


def _keys(raw: Json) -> tuple[str, ...]:
    return (raw,) if isinstance(raw, str) else _many(raw, _text)


def _keys_by_locus(raw: Json) -> dict[str, tuple[str, ...]]:
    return _table(raw, _keys)


def _locus(raw: Json) -> Locus:
    fields = _fields(raw, _LOCUS, "id", "alleles")
    chromosome = _one_of(fields, "chromosome", ("autosome", "X", "Z", "sex"))
    # Of the sex chromosomes no fraction goes without saying.
    _expect(chromosome != "sex" or "recombination" in fields)
    return Locus(
        id=_name(fields["id"]),
        alleles=_many(fields["alleles"], _name, 1),
        chromosome=chromosome,
        recombination=_number(fields.get("recombination", 0)),
    )


def _linkage(raw: Json) -> Linkage:
    fields = _fields(raw, _LINKAGE, "loci", "recombination")
    return Linkage(_many(fields["loci"], _name, 1), _many(fields["recombination"], _interval))


def _interval(raw: Json) -> Interval:
    fields = _fields(raw, _INTERVAL, "female", "male")
    return Interval(_number(fields["female"]), _number(fields["male"]))


def _viability(raw: Json) -> Viability:
    fields = _fields(raw, _VIABILITY, "locus", "genotype", "survival")
    return Viability(_name(fields["locus"]), _name(fields["genotype"]), _number(fields["survival"]))


def _trait(raw: Json) -> Trait:
    fields = _fields(raw, _TRAIT, "id")
    return Trait(
        id=_name(fields["id"]),
        shown_by=_many(fields.get("shown_by", []), _keys_by_locus),
        recessive_at=_names(fields.get("recessive_at", [])),
        hides=_names(fields.get("hides", [])),
    )


def _sighting(raw: Json) -> Sighting:
    if isinstance(raw, bool):
        return _SEEN[raw]
    fields = _fields(raw, _SIGHTING, "seen")
    return Sighting(
        seen=_boolean(fields["seen"]),
        false_negative=_number(fields.get("false_negative", 0)),
        false_positive=_number(fields.get("false_positive", 0)),
    )


def _shows(raw: Json) -> dict[str, Sighting]:
    return _table(raw, _sighting)


def _row(raw: Json) -> FounderRow:
    fields = _fields(raw, _ROW, "p", "genotypes")
    return FounderRow(_number(fields["p"]), _table(fields["genotypes"], _name))


def _animal(raw: Json) -> Animal:
    get = _fields(raw, _ANIMAL, "id").get
    # Most animals of a large book state parents alone.
    evidence = {name: read(raw[name]) for name, read in _EVIDENCE.items() if name in raw}
    return Animal(
        _name(raw["id"]),
        _one_of(raw, "sex", ("unknown", "female", "male")),
        _name_or_none(get("dam")),
        _name_or_none(get("sire")),
        _name_or_none(get("clutch")),
        **evidence,
    )


def _retained(raw: Json) -> Retained:
    return tuple(_numbers(raw).items()) or 0 if isinstance(raw, dict) else _number(raw)


def _statement(raw: Json) -> Statement:
    fields = _fields(raw, _STATEMENT, "trust")
    return Statement(
        trust=_name(fields["trust"]),
        founder=_by_locus(fields.get("founder", {})),
        founder_joint=_rows(fields.get("founder_joint", [])),
        likelihood=_by_locus(fields.get("likelihood", {})),
    )


def _statements(raw: Json) -> tuple[Statement, ...]:
    return _many(raw, _statement)


def _rows(raw: Json) -> tuple[FounderRow, ...]:
    return _many(raw, _row)


_EVIDENCE: dict[str, Callable[[Json], Json]] = {
    "founder": _by_locus,
    "founder_joint": _rows,
    "shows": _shows,
    "likelihood": _by_locus,
    "retained": _retained,
    "statements": _statements,
}


def _couple(raw: Json) -> Couple:
    get = _fields(raw, _COUPLE).get
    return Couple(
        _name_or_none(get("dam")),
        _name_or_none(get("sire")),
        _number(get("p", 1)),
        _retained(get("retained", 0)),
    )


def _tally_line(raw: Json) -> TallyLine:
    fields = _fields(raw, _TALLY, "count")
    return TallyLine(
        count=_hatchlings(fields["count"]),
        sex=_one_of(fields, "sex", ("unknown", "female", "male")),
        shows=_shows(fields.get("shows", {})),
    )


def _clutch(raw: Json) -> Clutch:
    fields = _fields(raw, _CLUTCH, "id")
    own = _couple({name: fields[name] for name in _CLUTCH_COUPLE if name in fields})
    stated = "candidates" in fields
    if stated and (own.dam is not None or own.sire is not None or "retained" in fields):
        raise _Misshapen
    return Clutch(
        id=_name(fields["id"]),
        candidates=_many(fields["candidates"], _couple, 1) if stated else (own,),
        paternity=_one_of(fields, "paternity", ("one", "each")),
        tally=_many(fields.get("tally", []), _tally_line),
        stated_candidates=stated,
    )


def _same_locus(raw: Json) -> SameLocus:
    fields = _fields(raw, _SAME_LOCUS, "loci", "prior")
    return SameLocus(_pair(fields["loci"]), _number(fields["prior"]))


def _ask(raw: Json) -> Questions:
    fields = _fields(raw, _ASK)
    return Questions(
        joint=_many(fields.get("joint", []), _joint),
        offspring=_many(fields.get("offspring", []), _offspring),
        kinship=_many(fields.get("kinship", []), _pair),
        inbreeding=_names(fields.get("inbreeding", [])),
    )


def _joint(raw: Json) -> JointQuestion:
    fields = _fields(raw, _JOINT, "animal", "genotypes")
    return JointQuestion(_name(fields["animal"]), _keys_by_locus(fields["genotypes"]))


def _offspring(raw: Json) -> OffspringQuestion:
    fields = _fields(raw, _OFFSPRING, "dam", "sire")
    goal = fields.get("goal")
    return OffspringQuestion(
        dam=_name(fields["dam"]),
        sire=_name(fields["sire"]),
        eggs=_many(fields.get("eggs", []), _hatchlings),
        goal=None if goal is None else _goal(goal),
        retained=_retained(fields.get("retained", 0)),
    )


def _goal(raw: Json) -> Goal:
    fields = _fields(raw, _GOAL)
    return Goal(
        shows=_table(fields.get("shows", {}), _boolean),
        genotypes=_keys_by_locus(fields.get("genotypes", {})),
        sex=_one_of(fields, "sex", (None, "female", "male")),
    )
