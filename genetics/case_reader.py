"""From the JSON of a case file to records.

The reader refuses exactly what the JSON Schema refuses, but does not name the fault: that is
left to the schema, which is far too slow to run over every case.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import TypeVar

from genetics import shape
from genetics.case_faults import shape_fault
from genetics.json_values import Json, JsonObject
from genetics.plans.reading import (
    forecast_question,
    routes_question,
    season_question,
    test_question,
)
from genetics.population import (
    Animal,
    Case,
    Clutch,
    Couple,
    FounderRow,
    Interval,
    JointQuestion,
    Linkage,
    Locus,
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
from genetics.validation_questions import validate_questions

T = TypeVar("T")

HALF = Fraction(1, 2)
_SEEN = {True: Sighting(True), False: Sighting(False)}


_CASE = shape.names_of(Population) | {"case", "ask"}
_LOCUS = shape.names_of(Locus)
_LINKAGE = shape.names_of(Linkage)
_INTERVAL = shape.names_of(Interval)
_VIABILITY = shape.names_of(Viability)
_TRAIT = shape.names_of(Trait)
_SIGHTING = shape.names_of(Sighting)
_ROW = shape.names_of(FounderRow)
_ANIMAL = shape.names_of(Animal)
_STATEMENT = shape.names_of(Statement)
_COUPLE = shape.names_of(Couple)
_TALLY = shape.names_of(TallyLine)
_CLUTCH_COUPLE = ("dam", "sire", "retained")
_CLUTCH = shape.names_of(Clutch) - {"stated_candidates"} | {*_CLUTCH_COUPLE}
_SAME_LOCUS = shape.names_of(SameLocus)
_ASK = shape.names_of(Questions)
_JOINT = shape.names_of(JointQuestion)
_OFFSPRING = shape.names_of(OffspringQuestion)


def read_case(data: object) -> Case:
    """The records that the JSON of a case file (as Python values) states.

    Fractions in strings become `Fraction`; other numbers stay as they are.

    Raises:
        MalformedCase: the data break the schema or contradict the contract; names the place.
    """
    try:
        fields = shape.object_with(data, _CASE, "loci", "animals")
        shape.one_of(fields, "case", (1,))
        determination = shape.one_of(fields, "sex_determination", ("none", "XY", "ZW"))
        for name in _CASE - {"case", "sex_determination", "background", "ask", "trust", "females"}:
            shape.expect(isinstance(fields.get(name, []), list))
        for name in ("background", "ask", "trust"):
            shape.expect(isinstance(fields.get(name, {}), dict))
    except shape.Misshapen:
        raise shape_fault(_outline(data), "case", "") from None
    # The shape of the whole comes first, then its meaning.
    background = fields.get("background", {})
    records: JsonObject = {
        "loci": _section(fields, "loci", "locus", _locus),
        "linkage": _section(fields, "linkage", "linkage", _linkage),
        "viability": _section(fields, "viability", "viability", _viability),
        "traits": _section(fields, "traits", "trait", _trait),
        "background": _field(background, "numbers_by_locus", shape.by_locus, "background"),
        "animals": _section(fields, "animals", "animal", _animal),
        "clutches": _section(fields, "clutches", "clutch", _clutch),
        "same_locus": _section(fields, "same_locus", "same_locus", _same_locus),
        "trust": _field(fields.get("trust", {}), "numbers", shape.numbers, "trust"),
    }
    ask = _field(fields.get("ask", {}), "ask", _ask, "ask")
    females = _field(fields.get("females", HALF), "number", shape.share, "females")
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
    except shape.Misshapen:
        raise shape_fault(raw, definition, f"{name}[{len(records)}]") from None
    return tuple(records)


def _field(raw: Json, definition: str, read: Callable[[Json], T], place: str) -> T:
    try:
        return read(raw)
    except shape.Misshapen:
        raise shape_fault(raw, definition, place) from None


def _locus(raw: Json) -> Locus:
    fields = shape.object_with(raw, _LOCUS, "id", "alleles")
    chromosome = shape.one_of(fields, "chromosome", ("autosome", "X", "Z", "sex"))
    # Of the sex chromosomes no fraction goes without saying.
    shape.expect(chromosome != "sex" or "recombination" in fields)
    return Locus(
        id=shape.name(fields["id"]),
        alleles=shape.many(fields["alleles"], shape.name, 1),
        chromosome=chromosome,
        recombination=shape.number(fields.get("recombination", 0)),
    )


def _linkage(raw: Json) -> Linkage:
    fields = shape.object_with(raw, _LINKAGE, "loci", "recombination")
    return Linkage(
        shape.many(fields["loci"], shape.name, 1), shape.many(fields["recombination"], _interval)
    )


def _interval(raw: Json) -> Interval:
    fields = shape.object_with(raw, _INTERVAL, "female", "male")
    return Interval(shape.number(fields["female"]), shape.number(fields["male"]))


def _viability(raw: Json) -> Viability:
    fields = shape.object_with(raw, _VIABILITY, "locus", "genotype", "survival")
    return Viability(
        shape.name(fields["locus"]),
        shape.name(fields["genotype"]),
        shape.number(fields["survival"]),
    )


def _trait(raw: Json) -> Trait:
    fields = shape.object_with(raw, _TRAIT, "id")
    return Trait(
        id=shape.name(fields["id"]),
        shown_by=shape.many(fields.get("shown_by", []), shape.keys_by_locus),
        recessive_at=shape.names(fields.get("recessive_at", [])),
        hides=shape.names(fields.get("hides", [])),
    )


def _sighting(raw: Json) -> Sighting:
    if isinstance(raw, bool):
        return _SEEN[raw]
    fields = shape.object_with(raw, _SIGHTING, "seen")
    return Sighting(
        seen=shape.boolean(fields["seen"]),
        false_negative=shape.number(fields.get("false_negative", 0)),
        false_positive=shape.number(fields.get("false_positive", 0)),
    )


def _shows(raw: Json) -> dict[str, Sighting]:
    return shape.table(raw, _sighting)


def _row(raw: Json) -> FounderRow:
    fields = shape.object_with(raw, _ROW, "p", "genotypes")
    return FounderRow(shape.number(fields["p"]), shape.table(fields["genotypes"], shape.name))


def _animal(raw: Json) -> Animal:
    get = shape.object_with(raw, _ANIMAL, "id").get
    # Most animals of a large book state parents alone.
    evidence = {name: read(raw[name]) for name, read in _EVIDENCE.items() if name in raw}
    return Animal(
        shape.name(raw["id"]),
        shape.one_of(raw, "sex", ("unknown", "female", "male")),
        shape.name_or_none(get("dam")),
        shape.name_or_none(get("sire")),
        shape.name_or_none(get("clutch")),
        **evidence,
    )


def _retained(raw: Json) -> Retained:
    return tuple(shape.numbers(raw).items()) or 0 if isinstance(raw, dict) else shape.number(raw)


def _statement(raw: Json) -> Statement:
    fields = shape.object_with(raw, _STATEMENT, "trust")
    return Statement(
        trust=shape.name(fields["trust"]),
        founder=shape.by_locus(fields.get("founder", {})),
        founder_joint=_rows(fields.get("founder_joint", [])),
        likelihood=shape.by_locus(fields.get("likelihood", {})),
    )


def _statements(raw: Json) -> tuple[Statement, ...]:
    return shape.many(raw, _statement)


def _rows(raw: Json) -> tuple[FounderRow, ...]:
    return shape.many(raw, _row)


_EVIDENCE: dict[str, Callable[[Json], Json]] = {
    "founder": shape.by_locus,
    "founder_joint": _rows,
    "shows": _shows,
    "likelihood": shape.by_locus,
    "retained": _retained,
    "statements": _statements,
    "begins": shape.names,
}


def _couple(raw: Json) -> Couple:
    get = shape.object_with(raw, _COUPLE).get
    return Couple(
        shape.name_or_none(get("dam")),
        shape.name_or_none(get("sire")),
        shape.number(get("p", 1)),
        _retained(get("retained", 0)),
    )


def _tally_line(raw: Json) -> TallyLine:
    fields = shape.object_with(raw, _TALLY, "count")
    return TallyLine(
        count=shape.whole(fields["count"]),
        sex=shape.one_of(fields, "sex", ("unknown", "female", "male")),
        shows=_shows(fields.get("shows", {})),
    )


def _clutch(raw: Json) -> Clutch:
    fields = shape.object_with(raw, _CLUTCH, "id")
    own = _couple({name: fields[name] for name in _CLUTCH_COUPLE if name in fields})
    stated = "candidates" in fields
    if stated and (own.dam is not None or own.sire is not None or "retained" in fields):
        raise shape.Misshapen
    return Clutch(
        id=shape.name(fields["id"]),
        candidates=shape.many(fields["candidates"], _couple, 1) if stated else (own,),
        paternity=shape.one_of(fields, "paternity", ("one", "each")),
        tally=shape.many(fields.get("tally", []), _tally_line),
        stated_candidates=stated,
    )


def _same_locus(raw: Json) -> SameLocus:
    fields = shape.object_with(raw, _SAME_LOCUS, "loci", "prior")
    return SameLocus(shape.pair(fields["loci"]), shape.number(fields["prior"]))


def _ask(raw: Json) -> Questions:
    fields = shape.object_with(raw, _ASK)
    return Questions(
        joint=shape.many(fields.get("joint", []), _joint),
        offspring=shape.many(fields.get("offspring", []), _offspring),
        kinship=shape.many(fields.get("kinship", []), shape.pair),
        inbreeding=shape.names(fields.get("inbreeding", [])),
        test=shape.many(fields.get("test", []), test_question),
        forecast=shape.many(fields.get("forecast", []), forecast_question),
        routes=shape.many(fields.get("routes", []), routes_question),
        season=season_question(fields["season"]) if "season" in fields else None,
    )


def _joint(raw: Json) -> JointQuestion:
    fields = shape.object_with(raw, _JOINT, "animal", "genotypes")
    return JointQuestion(shape.name(fields["animal"]), shape.keys_by_locus(fields["genotypes"]))


def _offspring(raw: Json) -> OffspringQuestion:
    fields = shape.object_with(raw, _OFFSPRING, "dam", "sire")
    return OffspringQuestion(
        dam=shape.name(fields["dam"]),
        sire=shape.name(fields["sire"]),
        eggs=shape.many(fields.get("eggs", []), shape.whole),
        goal=shape.goal_or_none(fields.get("goal")),
        retained=_retained(fields.get("retained", 0)),
    )
