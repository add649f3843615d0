"""From records to the JSON of a case file; what follows from a default is left out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from genetics import written
from genetics.json_values import JsonObject
from genetics.plans.writing import forecast_json, routes_json, season_json, test_json
from genetics.population import (
    Animal,
    Case,
    Clutch,
    Couple,
    FounderRow,
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
        **written.kept(
            clutches=[_clutch(clutch) for clutch in population.clutches],
            same_locus=[
                {"loci": list(entry.loci), "prior": written.number(entry.prior)}
                for entry in population.same_locus
            ],
            trust=written.numbers(population.trust),
            ask=_ask(case.ask),
        ),
    }


def _inheritance(population: Population) -> JsonObject:
    return written.kept(
        linkage=[
            {
                "loci": list(group.loci),
                "recombination": [
                    {"female": written.number(each.female), "male": written.number(each.male)}
                    for each in group.recombination
                ],
            }
            for group in population.linkage
        ],
        viability=[
            {
                "locus": line.locus,
                "genotype": line.genotype,
                "survival": written.number(line.survival),
            }
            for line in population.viability
        ],
        traits=[_trait(trait) for trait in population.traits],
        background=written.by_locus(population.background),
    )


def _locus(locus: Locus) -> JsonObject:
    fields: JsonObject = {"id": locus.id, "alleles": list(locus.alleles)}
    if locus.chromosome != "autosome":
        fields["chromosome"] = locus.chromosome
    if locus.chromosome == "sex":
        fields["recombination"] = written.number(locus.recombination)
    return fields


def _trait(trait: Trait) -> JsonObject:
    return {
        "id": trait.id,
        **written.kept(
            shown_by=[written.keys_by_locus(alternative) for alternative in trait.shown_by],
            recessive_at=list(trait.recessive_at),
            hides=list(trait.hides),
        ),
    }


def _sighting(sighting: Sighting) -> bool | JsonObject:
    if not sighting.false_negative and not sighting.false_positive:
        return sighting.seen
    return {
        "seen": sighting.seen,
        "false_negative": written.number(sighting.false_negative),
        "false_positive": written.number(sighting.false_positive),
    }


def _shows(shows: Mapping[str, Sighting]) -> JsonObject:
    return {trait: _sighting(sighting) for trait, sighting in shows.items()}


def _sex(sex: str) -> str | None:
    return None if sex == "unknown" else sex


def _animal(animal: Animal) -> JsonObject:
    return {
        "id": animal.id,
        **written.kept(
            sex=_sex(animal.sex),
            dam=animal.dam,
            sire=animal.sire,
            clutch=animal.clutch,
            founder=written.by_locus(animal.founder),
            founder_joint=_rows(animal.founder_joint),
            shows=_shows(animal.shows),
            likelihood=written.by_locus(animal.likelihood),
            retained=_retained(animal.retained),
            statements=[_statement(one) for one in animal.statements],
            begins=list(animal.begins),
        ),
    }


def _rows(rows: Iterable[FounderRow]) -> list[JsonObject]:
    return [{"p": written.number(row.p), "genotypes": dict(row.genotypes)} for row in rows]


def _statement(one: Statement) -> JsonObject:
    return {
        "trust": one.trust,
        **written.kept(
            founder=written.by_locus(one.founder),
            founder_joint=_rows(one.founder_joint),
            likelihood=written.by_locus(one.likelihood),
        ),
    }


def _couple(couple: Couple) -> JsonObject:
    return {
        "dam": couple.dam,
        "sire": couple.sire,
        "p": written.number(couple.p),
        **written.kept(retained=_retained(couple.retained)),
    }


def _retained(retained: Retained) -> str | int | float | JsonObject:
    return (
        written.numbers(dict(retained)) if isinstance(retained, tuple) else written.number(retained)
    )


def _tally_line(line: TallyLine) -> JsonObject:
    return {"count": line.count, **written.kept(sex=_sex(line.sex), shows=_shows(line.shows))}


def _clutch(clutch: Clutch) -> JsonObject:
    if clutch.stated_candidates:
        parents: JsonObject = {"candidates": [_couple(each) for each in clutch.candidates]}
    else:
        parents = _couple(clutch.candidates[0])
        del parents["p"]
    paternity = None if clutch.paternity == "one" else clutch.paternity
    tally = [_tally_line(line) for line in clutch.tally]
    return {"id": clutch.id, **parents, **written.kept(paternity=paternity, tally=tally)}


def _ask(ask: Questions) -> JsonObject:
    return written.kept(
        joint=[
            {"animal": question.animal, "genotypes": written.keys_by_locus(question.genotypes)}
            for question in ask.joint
        ],
        offspring=[_offspring(question) for question in ask.offspring],
        kinship=[list(pair) for pair in ask.kinship],
        inbreeding=list(ask.inbreeding),
        test=[test_json(question) for question in ask.test],
        forecast=[forecast_json(question) for question in ask.forecast],
        routes=[routes_json(question) for question in ask.routes],
        **({} if ask.season is None else {"season": season_json(ask.season)}),
    )


def _offspring(question: OffspringQuestion) -> JsonObject:
    return {
        "dam": question.dam,
        "sire": question.sire,
        **written.kept(eggs=list(question.eggs), retained=_retained(question.retained)),
        **({} if question.goal is None else {"goal": written.goal(question.goal)}),
    }


def _females(share: Number) -> dict[str, str | int | float]:
    return {} if share == Fraction(1, 2) else {"females": written.number(share)}
