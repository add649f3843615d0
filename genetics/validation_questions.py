"""The check of what is asked of a population that was checked before."""

from __future__ import annotations

from collections.abc import Mapping

from genetics.checks import check_count, refuse
from genetics.plans.validation import validate_plans
from genetics.population import NO_SIRE, Locus, OffspringQuestion, Population, Questions
from genetics.validation_goals import check_animal, check_goal, check_of_sex
from genetics.validation_inheritance import check_genotype_lists
from genetics.validation_pedigree import check_retained


def validate_questions(population: Population, ask: Questions) -> None:
    """Check that each question is about what the (valid) population holds.

    Raises:
        MalformedCase: a question names something unknown, or a parent of the wrong sex.
    """
    if ask == Questions():
        return
    loci = {locus.id: locus for locus in population.loci}
    for position, question in enumerate(ask.joint):
        place = f"ask.joint[{position}]"
        check_animal(question.animal, population, f"{place}.animal")
        check_genotype_lists(question.genotypes, population, loci, f"{place}.genotypes")
    for position, couple in enumerate(ask.offspring):
        _check_offspring(couple, population, loci, f"ask.offspring[{position}]")
    for position, pair in enumerate(ask.kinship):
        if len(pair) != 2:
            refuse(f"ask.kinship[{position}]", f"{len(pair)} animals; expected two")
        for index, name in enumerate(pair):
            check_animal(name, population, f"ask.kinship[{position}][{index}]")
    for position, name in enumerate(ask.inbreeding):
        check_animal(name, population, f"ask.inbreeding[{position}]")
    validate_plans(population, ask, loci)


def _check_offspring(
    question: OffspringQuestion, population: Population, loci: Mapping[str, Locus], place: str
) -> None:
    check_retained(question, population, place)
    check_of_sex(question.dam, "female", population, f"{place}.dam")
    if question.sire != NO_SIRE:
        check_of_sex(question.sire, "male", population, f"{place}.sire")
    for index, eggs in enumerate(question.eggs):
        check_count(eggs, f"{place}.eggs[{index}]")
    if question.goal is not None:
        check_goal(question.goal, population, loci, f"{place}.goal")
