"""Possible mates read, and the register as somebody may name it."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Prefetch, QuerySet

from keeper.domain.collection.queries import HERE
from keeper.domain.projects.queries import goal_of, open_projects, with_goal
from keeper.domain.saying.shorthand import Gene
from keeper.models import Animal, GoalPart, Line, Project, Sex, Species, Statement, Trait

OTHER = {Sex.FEMALE: Sex.MALE, Sex.MALE: Sex.FEMALE}


def mates_here(species: Species, sex: Sex) -> QuerySet[Animal]:
    """Return the animals of a sex that are kept here, for sale or on loan."""
    rows: QuerySet[Animal] = Animal.objects.live().filter(species=species, sex=sex, status__in=HERE)
    return rows.select_related("species").order_by("code")


def unsexed_here(species: Species) -> int:
    """Count the animals here whose sex is not known."""
    return mates_here(species, Sex.UNKNOWN).count()


def projects_of(species: Species) -> list[tuple[Project, list[GoalPart]]]:
    """Return the open projects of a species, each with its goal."""
    return [(one, goal_of(one)) for one in with_goal(open_projects(species))]


def statements_of(animals: Iterable[int]) -> dict[tuple[int, int], Statement]:
    """Return by animal and trait the first word that counts."""
    rows = Statement.objects.live().filter(animal__in=list(animals)).select_related("source")
    return {(one.animal_id, one.trait_id): one for one in rows.order_by("-pk")}


def species_with_genes() -> QuerySet[Species]:
    """Return the species of which the register has a look."""
    rows: QuerySet[Species] = Species.objects.live()
    return rows.filter(traits__withdrawn_at=None, traits__isnull=False).distinct().order_by("name")


def genes_of(species: Species) -> list[Gene]:
    """Return the looks of a species as somebody may name them, with their lines."""
    lines = Line.objects.live().order_by("code")
    traits: Iterable[Any] = (
        Trait.objects.live()
        .filter(species=species)
        .order_by("name")
        .prefetch_related(Prefetch("lines", lines, to_attr="live_lines"))
    )
    rows = list(traits)
    own = {one.pk: one.live_lines for one in rows}
    return [_gene(one, own.get(one.base_id or one.pk, [])) for one in rows]


def _gene(trait: Trait, lines: Iterable[Line]) -> Gene:
    codes = {line.pk: line.code for line in lines}
    # A code says more than a name that another line may have as its code.
    named = {line.name: line.pk for line in lines} | {code: pk for pk, code in codes.items()}
    return Gene(trait.pk, trait.name, named, codes, trait.base_id)
