"""Published check values, and the small cases in which the engine must reproduce them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from genetics.casefile import answer_case

Json = dict[str, Any]

NO_NUMBERS = "says how a look is inherited, without figures"
HUSBANDRY = "eggs, sizes or behaviour; the engine reads none of them"
OUTSIDE = {
    "S3.gamble": "markers present in one sex only: no genotypes to infer",
    "S3.zw": "which animals are XY and which ZW: a case file says so itself",
    "S3.tsd": "sex by temperature: without sex chromosomes sex is half and half",
    "R4.kingsnake": NO_NUMBERS,
    "R4.gartersnake": NO_NUMBERS,
    "R4.gopher": NO_NUMBERS,
    "P5.morrill": HUSBANDRY,
    "P5.ghana": HUSBANDRY,
    "P5.maturity": HUSBANDRY,
    "P5.storage": HUSBANDRY,
    "P5.paternity": "shares of clutches with several sires: a prior, not an inference",
    "P5.partheno": "young without a father are not part of the contract",
    "C9.deaf": "marriages of a whole population with unnamed genes",
}
"""Checks that no case file can express, and why."""


def to_digits(digits: int) -> float:
    """The most by which a value printed with so many decimals may be off."""
    return 0.500001 * 10.0**-digits


# ---- cases -----------------------------------------------------------------------------------


def locus(name: str, *mutants: str, **more: Any) -> Json:
    """A locus with the wild type "+" and the mutants (named like the locus unless given)."""
    return {"id": name, "alleles": ["+", *(mutants or (name,))], **more}


def recessive(trait: str, *loci: str) -> Json:
    """A trait that two copies at one of the loci show."""
    return {"id": trait, "recessive_at": list(loci)}


def dominant(trait: str, where: str, **more: Any) -> Json:
    """A trait that one copy shows."""
    return {"id": trait, "shown_by": [{where: [f"+/{where}", f"{where}/{where}"]}], **more}


def animal(name: str, sex: str, **more: Any) -> Json:
    """An animal of which more is to be told."""
    return {"id": name, "sex": sex, **more}


def founder(name: str, sex: str, /, **genotypes: str | Mapping[str, Any]) -> Json:
    """A founder; a genotype is a key that is certain, or a table of probabilities."""
    told = {where: {key: 1} if isinstance(key, str) else key for where, key in genotypes.items()}
    return animal(name, sex, founder=told)


def child(name: str, sex: str, parents: str, **more: Any) -> Json:
    """A child of "DAM SIRE"."""
    dam, sire = parents.split()
    return animal(name, sex, dam=dam, sire=sire, **more)


def clutch(name: str, parents: str, *tally: Json) -> Json:
    """A clutch of "DAM SIRE"; lines of no hatchlings are left out."""
    dam, sire = parents.split()
    return {"id": name, "dam": dam, "sire": sire, "tally": [one for one in tally if one["count"]]}


def line(count: int, /, sex: str = "unknown", **shows: Any) -> Json:
    """Hatchlings of one look."""
    return {"count": count, "sex": sex, "shows": shows}


def case(
    loci: Sequence[Json],
    traits: Sequence[Json],
    animals: Sequence[Json],
    clutches: Sequence[Json] = (),
    *,
    system: str = "XY",
    **more: Any,
) -> Json:
    """A case file."""
    parts = {"loci": loci, "traits": traits, "animals": animals, "clutches": clutches}
    written = {name: list(part) for name, part in parts.items()}
    return {"case": 1, "sex_determination": system, **written, **more}


# ---- answers ---------------------------------------------------------------------------------


def answered(data: Json) -> Json:
    """The engine's answer, which must be one and exact."""
    answer = answer_case(data)
    assert "error" not in answer, answer
    assert "exact" not in answer
    return answer


def evidence(data: Json) -> float:
    """Natural logarithm of the probability of a case's evidence."""
    return float(answered(data)["log_evidence"])


def couple(data: Json, parents: str, **question: Any) -> Json:
    """The answer to one question on the offspring of "DAM SIRE"."""
    dam, sire = parents.split()
    asked = {**data, "ask": {"offspring": [{"dam": dam, "sire": sire, **question}]}}
    found: Json = answered(asked)["offspring"][0]
    return found


def looks(data: Json, parents: str) -> dict[tuple[str, ...], float]:
    """Chance of every combination of visible traits among a couple's offspring."""
    rows = couple(data, parents)["phenotypes"]
    return {tuple(row["shows"]): float(row["p"]) for row in rows}


def goal(data: Json, parents: str, **wanted: Any) -> float:
    """Chance that one hatchling of a couple meets a goal."""
    return float(couple(data, parents, goal=wanted)["goal"])


def hatchlings_needed(data: Json, parents: str, level: float, **wanted: Any) -> int:
    """Smallest number of hatchlings for which at least one meets the goal with that chance."""
    counts = list(range(1, 400))
    chances = couple(data, parents, goal=wanted, eggs=counts)["at_least_one"]
    return next(n for n in counts if chances[str(n)] >= level)


def lod(data: Json, reference: Json) -> float:
    """Decimal logarithm of how much likelier a case makes the evidence than another does."""
    return (evidence(data) - evidence(reference)) / math.log(10)


# ---- one recessive ---------------------------------------------------------------------------

HET, HOM, WILD = "+/sg", "sg/sg", "+/+"
TWO_THIRDS = {WILD: "1/3", HET: "2/3"}
SALTGRASS = [locus("sg")], [recessive("Saltgrass", "sg")]


def mating(dam: Any, sire: Any, *tally: Json) -> Json:
    """Dam F and sire M at one recessive locus, with the hatchlings of their clutch."""
    parents = [founder("F", "female", sg=dam), founder("M", "male", sg=sire)]
    return case(*SALTGRASS, parents, [clutch("C", "F M", *tally)])


def carrier(data: Json, name: str = "M") -> float:
    """Probability that an animal has one copy."""
    return float(answered(data)["posterior"][name]["sg"][HET])
