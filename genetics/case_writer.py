"""From records to the JSON of a case file; what follows from a default is left out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from genetics.json_values import Json, JsonObject
from genetics.population import (
    Animal,
    Case,
    Clutch,
    Couple,
    FounderRow,
    Goal,
    Locus,
    Number,
    OffspringQuestion,
    Population,
    Questions,
    Retained,
    Sighting,
    Statement,
    TallyLine,
    Trait,
)

_FORMAT = 1


def write_case(case: Case) -> JsonObject:
    """The JSON of a case, as Python values: `read_case` of it gives an equal case.

    Fractions are written as strings such as `"2/3"`, so that they stay exact.
    """
    population = case.population
    return {
        "case": _FORMAT,
        "sex_determination": population.sex_determination,
        "loci": [_locus(locus) for locus in population.loci],
        **_females(population.females),
        **_inheritance(population),
        "animals": [_animal(animal) for animal in population.animals],
        **_kept(
            clutches=[_clutch(clutch) for clutch in population.clutches],
            same_locus=[
                {"loci": list(entry.loci), "prior": _number(entry.prior)}
                for entry in population.same_locus
            ],
            trust=_numbers(population.trust),
            ask=_ask(case.ask),
        ),
    }


def _inheritance(population: Population) -> JsonObject:
    return _kept(
        linkage=[
            {
                "loci": list(group.loci),
                "recombination": [
                    {"female": _number(each.female), "male": _number(each.male)}
                    for each in group.recombination
                ],
            }
            for group in population.linkage
        ],
        viability=[
            {
                "locus": line.locus,
                "genotype": line.genotype,
                "survival": _number(line.survival),
            }
            for line in population.viability
        ],
        traits=[_trait(trait) for trait in population.traits],
        background=_by_locus(population.background),
    )


def _kept(**fields: Json) -> JsonObject:
    """The fields that hold anything."""
    return {name: value for name, value in fields.items() if value}


def _number(value: Number) -> str | int | float:
    return str(value) if isinstance(value, Fraction) else value


def _numbers(values: Mapping[str, Number]) -> JsonObject:
    return {key: _number(value) for key, value in values.items()}


def _by_locus(values: Mapping[str, Mapping[str, Number]]) -> JsonObject:
    return {locus: _numbers(numbers) for locus, numbers in values.items()}


def _keys_by_locus(values: Mapping[str, tuple[str, ...]]) -> dict[str, list[str]]:
    return {locus: list(keys) for locus, keys in values.items()}


def _locus(locus: Locus) -> JsonObject:
    fields: JsonObject = {"id": locus.id, "alleles": list(locus.alleles)}
    if locus.chromosome != "autosome":
        fields["chromosome"] = locus.chromosome
    if locus.chromosome == "sex":
        fields["recombination"] = _number(locus.recombination)
    return fields


def _trait(trait: Trait) -> JsonObject:
    return {
        "id": trait.id,
        **_kept(
            shown_by=[_keys_by_locus(alternative) for alternative in trait.shown_by],
            recessive_at=list(trait.recessive_at),
            hides=list(trait.hides),
        ),
    }


def _sighting(sighting: Sighting) -> bool | JsonObject:
    if not sighting.false_negative and not sighting.false_positive:
        return sighting.seen
    return {
        "seen": sighting.seen,
        "false_negative": _number(sighting.false_negative),
        "false_positive": _number(sighting.false_positive),
    }


def _shows(shows: Mapping[str, Sighting]) -> JsonObject:
    return {trait: _sighting(sighting) for trait, sighting in shows.items()}


def _sex(sex: str) -> str | None:
    return None if sex == "unknown" else sex


def _animal(animal: Animal) -> JsonObject:
    return {
        "id": animal.id,
        **_kept(
            sex=_sex(animal.sex),
            dam=animal.dam,
            sire=animal.sire,
            clutch=animal.clutch,
            founder=_by_locus(animal.founder),
            founder_joint=_rows(animal.founder_joint),
            shows=_shows(animal.shows),
            likelihood=_by_locus(animal.likelihood),
            retained=_retained(animal.retained),
            statements=[_statement(one) for one in animal.statements],
        ),
    }


def _rows(rows: Iterable[FounderRow]) -> list[JsonObject]:
    return [{"p": _number(row.p), "genotypes": dict(row.genotypes)} for row in rows]


def _statement(one: Statement) -> JsonObject:
    return {
        "trust": one.trust,
        **_kept(
            founder=_by_locus(one.founder),
            founder_joint=_rows(one.founder_joint),
            likelihood=_by_locus(one.likelihood),
        ),
    }


def _couple(couple: Couple) -> JsonObject:
    return {
        "dam": couple.dam,
        "sire": couple.sire,
        "p": _number(couple.p),
        **_kept(retained=_retained(couple.retained)),
    }


def _retained(retained: Retained) -> str | int | float | JsonObject:
    return _numbers(dict(retained)) if isinstance(retained, tuple) else _number(retained)


def _tally_line(line: TallyLine) -> JsonObject:
    return {"count": line.count, **_kept(sex=_sex(line.sex), shows=_shows(line.shows))}


def _clutch(clutch: Clutch) -> JsonObject:
    if clutch.stated_candidates:
        parents: JsonObject = {"candidates": [_couple(each) for each in clutch.candidates]}
    else:
        parents = _couple(clutch.candidates[0])
        del parents["p"]
    paternity = None if clutch.paternity == "one" else clutch.paternity
    tally = [_tally_line(line) for line in clutch.tally]
    return {"id": clutch.id, **parents, **_kept(paternity=paternity, tally=tally)}


def _ask(ask: Questions) -> JsonObject:
    return _kept(
        joint=[
            {"animal": question.animal, "genotypes": _keys_by_locus(question.genotypes)}
            for question in ask.joint
        ],
        offspring=[_offspring(question) for question in ask.offspring],
        kinship=[list(pair) for pair in ask.kinship],
        inbreeding=list(ask.inbreeding),
    )


def _offspring(question: OffspringQuestion) -> JsonObject:
    return {
        "dam": question.dam,
        "sire": question.sire,
        **_kept(eggs=list(question.eggs), retained=_retained(question.retained)),
        **({} if question.goal is None else {"goal": _goal(question.goal)}),
    }


def _goal(goal: Goal) -> JsonObject:
    return _kept(shows=dict(goal.shows), genotypes=_keys_by_locus(goal.genotypes), sex=goal.sex)


def _females(share: Number) -> dict[str, str | int | float]:
    return {} if share == Fraction(1, 2) else {"females": _number(share)}
