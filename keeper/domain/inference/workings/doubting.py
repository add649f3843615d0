"""What a proof is worth that rests on a single look, if looks are misread as often as they are."""

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

import genetics
from keeper.domain.inference.questions.asking import Subproblem
from keeper.domain.inference.reading.looks import misread
from keeper.domain.inference.workings.weighing import part_of
from keeper.models import Animal, Line, Trait


def if_misread(animal: Animal, trait: Trait, line: Line | None = None) -> float | None:
    """The chance of carrying if the look at its young can have been misread; None: not known.

    Raises:
        Unanswerable: the family is too large.
    """
    found = part_of(animal, trait, line)
    if found is None:
        return None
    part, question = found
    population = part.book.population
    names, young, clutches = _forms(part, trait), _young(part, animal), _clutches(part, animal)
    rate = misread()
    animals = tuple(
        one._replace(shows=_doubted(one.shows, names, rate)) if one.id in young else one
        for one in population.animals
    )
    hatched = tuple(
        one._replace(tally=tuple(_doubted_line(line, names, rate) for line in one.tally))
        if one.id in clutches
        else one
        for one in population.clutches
    )
    doubted = replace(population, animals=animals, clutches=hatched)
    return question.ask(question.relevant(doubted)).carries


def _forms(part: Subproblem, trait: Trait) -> set[str]:
    """The trait and its double forms, as the engine calls them."""
    inheritance = part.of.inheritance
    return {inheritance.traits[pk].name for pk in inheritance.with_forms(trait.pk)}


def _young(part: Subproblem, animal: Animal) -> set[str]:
    rows = part.of.rows
    return {rows.animals[pk].code for pk in rows.children.get(animal.pk, ())}


def _clutches(part: Subproblem, animal: Animal) -> set[str]:
    ids = part.book.clutch_ids
    return {ids[pk] for pk in part.of.rows.bred.get(animal.pk, ()) if pk in ids}


def _doubted_line(line: genetics.TallyLine, names: set[str], rate: Fraction) -> genetics.TallyLine:
    return replace(line, shows=_doubted(line.shows, names, rate))


def _doubted(
    shows: Mapping[str, genetics.Sighting], names: set[str], rate: Fraction
) -> dict[str, genetics.Sighting]:
    """Looks, of which those that saw one of some traits may have been misread."""
    return {
        name: replace(look, false_positive=max(look.false_positive, rate))
        if look.seen and name in names
        else look
        for name, look in shows.items()
    }
