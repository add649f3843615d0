"""Possible mates read, and the register as somebody may name it."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.db.models import Count, Prefetch, QuerySet

from keeper.domain.collection.queries import HERE
from keeper.domain.projects.queries import goal_of, open_projects, with_goal
from keeper.domain.saying.shorthand import Gene, Word
from keeper.domain.saying.shows import parts_of, with_parts
from keeper.domain.sources.writes import too_many_copies
from keeper.models import Animal, GoalPart, Line, NamedLook, Project, Sex, Species, Statement, Trait

OTHER = {Sex.FEMALE: Sex.MALE, Sex.MALE: Sex.FEMALE}


def mates_here(species: Species, sex: Sex) -> QuerySet[Animal]:
    """Return the animals of a sex that are kept here, for sale or on loan."""
    rows: QuerySet[Animal] = Animal.objects.live().filter(species=species, sex=sex, status__in=HERE)
    return rows.select_related("species").order_by("code")


def most_kept(offered: Sequence[Species]) -> Species | None:
    """Return the species of which most animals are here; nothing if there is none."""
    rows = Animal.objects.live().filter(species__in=offered, status__in=HERE)
    counts = dict(rows.values_list("species").annotate(Count("pk")).order_by())
    return max(offered, key=lambda one: counts.get(one.pk, 0), default=None)


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


def cannot_all_be(words: Sequence[Word]) -> str:
    """Return why words need more copies than an animal has; empty if they can all be true."""
    traits = Trait.objects.prefetch_related("lines__locus").in_bulk([one.trait for one in words])
    named = [one.line for one in words if one.line is not None]
    lines = Line.objects.select_related("locus").in_bulk(named)
    said = [
        (
            Statement(
                trait=traits[one.trait],
                line=None if one.line is None else lines[one.line],
                claim=one.claim,
            ),
            one.text,
        )
        for one in words
    ]
    return too_many_copies(said)


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
    genes = [_gene(one, own.get(one.base_id or one.pk, [])) for one in rows]
    looks = with_parts(NamedLook.objects.live().filter(species=species).order_by("name"))
    return genes + [_named(one) for one in looks if _can_be_said(one, set(own))]


def _can_be_said(look: NamedLook, traits: set[int]) -> bool:
    return {part.trait_id for part in parts_of(look)} <= traits


def _named(look: NamedLook) -> Gene:
    """A look of several genes; a part that several lines may make is of a line not known."""
    parts = []
    for part in parts_of(look):
        lines = [line.pk for line in part.lines.all() if not line.is_withdrawn]
        parts.append((part.trait_id, lines[0] if len(lines) == 1 else None))
    return Gene(0, look.name, parts=tuple(parts))


def _gene(trait: Trait, lines: Iterable[Line]) -> Gene:
    codes = {line.pk: line.label for line in lines}
    # A code says more than a name that another line may have as its code.
    named = {line.name: line.pk for line in lines if line.name}
    named |= {line.code: line.pk for line in lines if line.name}
    return Gene(trait.pk, trait.name, named, codes, trait.base_id)
