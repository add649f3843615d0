"""Whether any animal can show several traits at once, by the register alone."""

from collections.abc import Collection, Sequence
from itertools import permutations

import genetics
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.shown_looks import LookOf, shown_part
from keeper.models import Species


def never_seen(species: Species, parts: Sequence[tuple[int, Collection[int]]]) -> str:
    """Why no animal shows all of these (ids of traits, each with lines); empty if some can."""
    inheritance = Inheritance.load(species)
    shown = {one.pk for one in inheritance.shown_traits}
    missing = [inheritance.traits[pk] for pk, _ in parts if pk not in shown]
    if missing:
        return f"Nothing shows {missing[0]} yet: it has no line, or no combination."
    if genetics.can_be_seen(
        _nobody(inheritance, {pk for pk, _ in parts}),
        [shown_part(inheritance, LookOf(pk, frozenset(lines))) for pk, lines in parts],
    ):
        return ""
    for (one, _), (other, _) in permutations(parts, 2):
        if other in inheritance.hidden_by([one]) - {one}:
            first, second = inheritance.traits[one], inheritance.traits[other]
            return f"{first} hides {second}: no animal shows both."
    names = " and ".join(inheritance.traits[pk].name for pk, _ in parts)
    return f"No animal can show {names} at once: no genes make them all."


def _nobody(inheritance: Inheritance, traits: set[int]) -> "genetics.Population":
    """The inheritance that decides some traits, without an animal."""
    groups = [group for group in inheritance.groups if group.traits & traits]
    loci = frozenset(pk for group in groups for pk in group.loci)
    every = {pk for group in groups for pk in group.traits}
    return genetics.Population(animals=(), **inheritance.engine_parts(loci, every))
