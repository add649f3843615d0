"""How telling the clean young of an animal are: more than their number says, or much less."""

from collections.abc import Collection, Mapping
from dataclasses import replace
from math import log2

import genetics
from keeper.domain.inference.questions.asking import Subproblem, Unanswerable
from keeper.domain.inference.reading.asked_traits import again
from keeper.domain.inference.workings.weighing import part_of
from keeper.models import Animal, Line, Trait


def how_telling(animal: Animal, trait: Trait, line: Line | None = None) -> float | None:
    """What its young without a trait tell against its carrying it, in even chances passed.

    The logarithm to base 2 of the odds of carrying without their looks against the odds with
    them: 1 for each young of a visual mate, for a dominant of any mate without it. None where it
    cannot be told exactly, or nothing is left to be told.
    """
    try:
        found = part_of(animal, trait, line)
        if found is None:
            return None
        part, question = found
        with_them = question.ask(question.relevant(part.book.population))
        without = question.ask(question.relevant(_unlooked(part, animal, trait)))
    except (Unanswerable, genetics.BeyondExact, genetics.ImpossibleEvidence):
        return None
    exact = with_them.exact and without.exact
    if not (exact and 0 < with_them.carries < 1 and 0 < without.carries < 1):
        return None
    return log2(_odds(without.carries) / _odds(with_them.carries))


def _odds(chance: float) -> float:
    return chance / (1 - chance)


def _unlooked(part: Subproblem, animal: Animal, trait: Trait) -> genetics.Population:
    """The population without the clean looks for the trait at the young that are certainly its."""
    population, inheritance = part.book.population, part.of.inheritance
    forms = {inheritance.traits[pk].name for pk in inheritance.with_forms(trait.pk)}
    names = forms | {again(name) for name in forms}
    young, clutches = _young(part, animal), _clutches(part, animal)
    return replace(
        population,
        animals=tuple(
            one._replace(shows=_less(one.shows, names)) if one.id in young else one
            for one in population.animals
        ),
        clutches=tuple(
            one._replace(
                tally=tuple(replace(row, shows=_less(row.shows, names)) for row in one.tally)
            )
            if one.id in clutches
            else one
            for one in population.clutches
        ),
    )


def _own(part: Subproblem, animal: Animal) -> set[int]:
    """The clutches of which it is a parent for certain."""
    rows = part.of.rows
    bred = (rows.clutches[pk] for pk in rows.bred.get(animal.pk, ()))
    return {
        one.pk
        for one in bred
        if one.dam == animal.pk or [sire for sire, _ in one.sires] == [animal.pk]
    }


def _young(part: Subproblem, animal: Animal) -> set[str]:
    rows, own = part.of.rows, _own(part, animal)
    children = (rows.animals[pk] for pk in rows.children.get(animal.pk, ()))
    return {one.code for one in children if one.clutch is None or one.clutch in own}


def _clutches(part: Subproblem, animal: Animal) -> set[str]:
    ids = part.book.clutch_ids
    return {ids[pk] for pk in _own(part, animal) if pk in ids}


def _less(
    shows: Mapping[str, genetics.Sighting], names: Collection[str]
) -> dict[str, genetics.Sighting]:
    return {name: look for name, look in shows.items() if look.seen or name not in names}
