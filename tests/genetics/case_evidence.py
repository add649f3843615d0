"""What is seen in random cases, and what is asked of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from hypothesis import strategies as st

from tests.genetics.case_draws import Draw, all_keys, pick, pick_some, sometimes
from tests.genetics.twin_genome import FEMALE, MALE, NOBODY, SEXES, Case, Genome
from tests.genetics.twin_worlds import is_possible, known_sexes, records


def add_evidence(draw: Draw, case: Case, *, errors: bool, likelihoods: bool) -> None:
    """Observations on animals, tally lines of clutches, laboratory tests."""
    genome = Genome(case)
    for animal in case["animals"]:
        animal["shows"] = _shows(draw, case, errors)
        if likelihoods and sometimes(draw):
            animal["likelihood"] = {
                locus: {
                    key: pick(draw, (1, 0.2, "1/3", 0, 2))
                    for key in pick_some(draw, all_keys(genome, locus), 4)
                }
                for locus in pick_some(draw, list(genome.alleles), 2)
            }
        if not animal["shows"]:
            del animal["shows"]
    for clutch in case["clutches"]:
        lines = [
            {
                "count": draw(st.integers(1, 4)),
                "sex": pick(draw, ("unknown", FEMALE, MALE)),
                "shows": _shows(draw, case, errors),
            }
            for _ in range(draw(st.integers(0, 2)))
        ]
        if lines:
            clutch["tally"] = lines


def _shows(draw: Draw, case: Case, errors: bool) -> dict[str, Any]:
    shows: dict[str, Any] = {}
    for trait in case["traits"]:
        report = pick(draw, (None, False, True, False))
        if report is not None:
            shows[trait["id"]] = report
            if errors and sometimes(draw, 3):
                shows[trait["id"]] = {
                    "seen": report,
                    "false_negative": pick(draw, (0.05, 0, "1/3")),
                    "false_positive": pick(draw, (0.01, 0, 0.25)),
                }
    return shows


def make_possible(case: Case) -> None:
    """Turn round, or take out, each piece of evidence that cannot be true beside the earlier.

    A case that no evidence could save (parents without living young, say) stays as it is.
    """
    if is_possible(case):
        return
    kinds = (".shows.", ".likelihood.", ".tally[")
    evidence = [name for name in records(case) if any(kind in name for kind in kinds)]
    out = set(evidence)
    if not is_possible(case, out):
        return
    for name in evidence:
        out.remove(name)
        if not is_possible(case, out):
            _turn_round(case, name)
            if not is_possible(case, out):
                out.add(name)
    _take_out(case, out)


def _turn_round(case: Case, name: str) -> None:
    for animal in case["animals"]:
        for trait in animal.get("shows", {}):
            if name == f"{animal['id']}.shows.{trait}":
                _flip(animal["shows"], trait)
    for clutch in case["clutches"]:
        for i, line in enumerate(clutch.get("tally", [])):
            if name == f"{clutch['id']}.tally[{i}]":
                for trait in line["shows"]:
                    _flip(line["shows"], trait)


def _flip(shows: dict[str, Any], trait: str) -> None:
    report = shows[trait]
    if isinstance(report, dict):
        report["seen"] = not report["seen"]
    else:
        shows[trait] = not report


def _take_out(case: Case, names: set[str]) -> None:
    for animal in case["animals"]:
        for kind in ("shows", "likelihood"):
            kept = {
                at: entry
                for at, entry in animal.get(kind, {}).items()
                if f"{animal['id']}.{kind}.{at}" not in names
            }
            animal.pop(kind, None)
            if kept:
                animal[kind] = kept
    for clutch in case["clutches"]:
        clutch["tally"] = [
            line
            for i, line in enumerate(clutch.get("tally", []))
            if f"{clutch['id']}.tally[{i}]" not in names
        ]


def add_questions(draw: Draw, case: Case, *, alone: bool = False) -> None:
    """Some questions of every sort that the case allows."""
    genome, sexes = Genome(case), known_sexes(case)
    ids, loci = list(sexes), list(genome.alleles)
    ask: dict[str, Any] = {}
    if sometimes(draw):
        ask["joint"] = [
            {"animal": pick(draw, ids[::-1]), "genotypes": _genotypes(draw, genome, loci)}
            for _ in range(draw(st.integers(1, 2)))
        ]
    females = [who for who, sex in sexes.items() if sex == FEMALE]
    males = [who for who, sex in sexes.items() if sex == MALE]
    if females and males and not sometimes(draw, 3):
        ask["offspring"] = [_offspring(draw, case, genome, pick(draw, females), pick(draw, males))]
    if females and alone and sometimes(draw):
        question = _offspring(draw, case, genome, pick(draw, females), NOBODY)
        ask.setdefault("offspring", []).append(question | {"retained": pick(draw, (0, 0.25))})
    if not sometimes(draw, 3):
        ask["kinship"] = [
            [pick(draw, ids[::-1]), pick(draw, ids)] for _ in range(draw(st.integers(1, 3)))
        ]
        ask["inbreeding"] = pick_some(draw, ids[::-1], 3)
    case["ask"] = ask


def _genotypes(draw: Draw, genome: Genome, loci: Sequence[str]) -> dict[str, Any]:
    wanted: dict[str, Any] = {}
    for locus in pick_some(draw, loci, 2):
        keys = pick_some(draw, all_keys(genome, locus), 3)
        wanted[locus] = keys[0] if len(keys) == 1 and sometimes(draw) else keys
    return wanted


def _offspring(draw: Draw, case: Case, genome: Genome, dam: str, sire: str) -> dict[str, Any]:
    question: dict[str, Any] = {"dam": dam, "sire": sire}
    if not sometimes(draw, 4):
        goal: dict[str, Any] = {}
        if sometimes(draw):
            goal["genotypes"] = _genotypes(draw, genome, list(genome.alleles))
        if not goal or sometimes(draw):
            traits = pick_some(draw, [trait["id"] for trait in case["traits"]], 2)
            goal["shows"] = {trait: not sometimes(draw, 3) for trait in traits}
        if sometimes(draw, 3):
            goal["sex"] = pick(draw, SEXES)
        question["goal"] = goal
        if not sometimes(draw, 4):
            question["eggs"] = pick_some(draw, (1, 2, 8, 16), 3)
    return question
