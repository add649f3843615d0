"""Projects and their members, as pages read them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.db.models import Count, Prefetch, Q, QuerySet

from keeper.domain.register.queries import combinations, lines_combined
from keeper.models import (
    GONE,
    Animal,
    Clutch,
    DaybookEntry,
    GoalLook,
    GoalPart,
    Line,
    Member,
    NamedLook,
    Observation,
    Project,
    Seen,
    Sex,
    Shows,
    Species,
    Standing,
    Trait,
)

_IN_IT = Q(members__withdrawn_at=None, members__released_on=None)


def with_goal(projects: QuerySet[Project]) -> QuerySet[Project]:
    """Add species and goal, the parts as `goal`."""
    parts = GoalPart.objects.live().select_related("trait__base", "line__trait")
    looks = GoalLook.objects.live().select_related("look")
    return projects.select_related("species").prefetch_related(
        Prefetch("goal_parts", parts, to_attr="goal"),
        Prefetch("goal_looks", looks, to_attr="wanted_looks"),
    )


def goal_of(project: Any) -> list[GoalPart]:
    """Return the parts of the goal of a project that came `with_goal`, those of its looks too."""
    return [*project.goal, *(part for one in looks_wanted(project) for part in one.as_parts())]


def own_parts(project: Any) -> list[GoalPart]:
    """Return the parts of the goal without those of its looks."""
    return list(project.goal)


def looks_wanted(project: Any) -> list[GoalLook]:
    """Return the named looks in the goal of a project that came `with_goal`."""
    return list(project.wanted_looks)


def named_looks() -> QuerySet[NamedLook]:
    """Return the named looks that a goal may ask for, by species."""
    looks: QuerySet[NamedLook] = NamedLook.objects.live().select_related("species")
    return looks.order_by("species__name", "name")


def with_counts(projects: QuerySet[Project], today: date) -> QuerySet[Project]:
    """Add `in_it`, how many animals are in each, and `due`, how many of them want a look."""
    return projects.annotate(
        in_it=Count("members", filter=_IN_IT),
        due=Count("members", filter=_IN_IT & Q(members__review_on__lte=today)),
    )


def members_now(project: Project) -> QuerySet[Member]:
    """Return those that are in a project."""
    members = Member.objects.live().filter(project=project, released_on=None)
    return members.select_related("animal__species")


def members_here(project: Project) -> QuerySet[Member]:
    """Return those that are in a project and here to be bred from: not sold, not dead."""
    return members_now(project).exclude(animal__status__in=GONE)


def is_here(member: Member) -> bool:
    """Whether a member is here to be bred from."""
    return member.animal.status not in GONE


def members_released(project: Project) -> QuerySet[Member]:
    """Return those that were let go, the last first."""
    members = Member.objects.live().filter(project=project).exclude(released_on=None)
    return members.select_related("animal").order_by("-released_on", "-pk")


@dataclass(frozen=True)
class Gene:
    """Of what an animal has copies for a part of a goal: a trait, or one of its lines."""

    words: str
    trait: int
    line: int | None


def genes_of(parts: Iterable[GoalPart]) -> list[tuple[Gene, ...]]:
    """Return the genes of each part of a goal.

    A double form is two copies of its base; for what combinations show there may be several.
    """
    parts = list(parts)  # gone through twice
    combined = lines_combined(combinations(part.trait for part in parts))
    found: list[tuple[Gene, ...]] = []
    for part in parts:
        among = part.among or ((part.line,) if part.line is not None else ())
        if among:
            found.append(tuple(Gene(str(one), one.trait_id, one.pk) for one in among))
            continue
        whole, own = part.trait.base or part.trait, combined.get(part.trait_id, [])
        genes = [] if own and part.trait.base is None else [Gene(str(whole), whole.pk, None)]
        genes += [
            Gene(str(one), one.trait_id, one.pk)
            for one in own
            if one.trait_id != part.trait.base_id
        ]
        found.append(tuple(genes))
    return found


def goal_standings(
    genes: Iterable[Sequence[Gene]], animals: Iterable[int]
) -> dict[tuple[int, int, int | None], Standing]:
    """Return the standings in a goal's genes, by animal, trait and line."""
    traits = {gene.trait for several in genes for gene in several}
    found = Standing.objects.filter(
        animal_id__in=list(animals), trait_id__in=traits
    ).select_related("trait", "line", "dispute")
    return {(one.animal_id, one.trait_id, one.line_id): one for one in found}


# An animal, and a trait that it shows, or what `look_key` makes of a named look.
Shown = tuple[int, int | str]


def look_key(look: int) -> str:
    """Return what stands for a named look among what animals show."""
    return f"look {look}"


def shown_by(parts: Sequence[GoalPart], animals: Iterable[int]) -> set[Shown]:
    """Return who shows what of a goal: was seen to, by the latest look, or does for certain."""
    animals = list(animals)
    own = [part.trait_id for part in parts if part.of_look is None]
    certain = Shows.objects.filter(animal__in=animals, chance=1, disputed=False)
    found: set[Shown] = set(certain.filter(trait__in=own).values_list("animal_id", "trait_id"))
    wanted = [part.of_look for part in parts if part.of_look is not None]
    if wanted:
        rows = certain.filter(look__in=wanted).values_list("animal_id", "look_id")
        found |= {(animal, look_key(look)) for animal, look in rows if look is not None}
    looks = (
        Observation.objects.live()
        .filter(animal__in=animals, trait__in=own)
        .exclude(seen=Seen.UNSURE)
        .order_by("on", "pk")
    )
    latest = {(a, t): seen for a, t, seen in looks.values_list("animal_id", "trait_id", "seen")}
    return found | {whose for whose, seen in latest.items() if seen == Seen.YES}


def log_of(project: Project, most: int) -> QuerySet[DaybookEntry]:
    """Return the last entries about a project, its plans and who was in it, the latest first."""
    about = ContentType.objects.get_for_model(Project)
    entries = DaybookEntry.objects.filter(subject_type=about, subject_id=project.pk)
    found: QuerySet[DaybookEntry] = entries.select_related("by").order_by("-pk")[:most]
    return found


def bred_for(project: Project) -> QuerySet[Any]:
    """Return clutches of two animals that are or were in a project, with what came of them.

    `hatched` counts all hatchlings, `kept_back` those that are or were in the project.
    """
    inside = list(Member.objects.live().filter(project=project).values_list("animal_id", flat=True))
    clutches = Clutch.objects.live().filter(
        dam_id__in=inside,
        pk__in=Clutch.objects.filter(
            candidates__withdrawn_at=None, candidates__sire_id__in=inside
        ).values("pk"),
    )
    kept = Q(young__memberships__project=project, young__memberships__withdrawn_at=None)
    found: QuerySet[Any] = (
        clutches.select_related("dam")
        .prefetch_related("candidates__sire", "hatch_rows")
        .annotate(kept_back=Count("young", filter=kept, distinct=True))
    )
    return found


def may_join(project: Project | None) -> QuerySet[Animal]:
    """Return the animals that are here and, for a project, of its species and not in it."""
    animals: QuerySet[Animal] = Animal.objects.live().exclude(status__in=GONE)
    if project is None:
        return animals
    return animals.filter(species=project.species_id).exclude(
        pk__in=members_now(project).values("animal_id")
    )


def listed(*, closed: bool) -> QuerySet[Project]:
    """Return the projects that are going on, or those that are closed."""
    projects: QuerySet[Project] = Project.objects.live().filter(closed_on__isnull=not closed)
    return projects


def open_projects(species: Species | None = None) -> QuerySet[Project]:
    """Return the projects that are going on, of one species or of all."""
    projects = listed(closed=False).select_related("species")
    return projects if species is None else projects.filter(species=species)


def genes() -> QuerySet[Any]:
    """Return the traits that a goal may name, each with its `live_lines`, by species."""
    traits: QuerySet[Any] = Trait.objects.live().select_related("species")
    return traits.order_by("species__name", "name").prefetch_related(
        Prefetch("lines", Line.objects.live().select_related("trait"), to_attr="live_lines")
    )


def pairs_of(animals: Iterable[Animal]) -> list[tuple[Animal, Animal]]:
    """Return every female with every male."""
    animals = list(animals)
    dams = [one for one in animals if one.sex == Sex.FEMALE]
    sires = [one for one in animals if one.sex == Sex.MALE]
    return [(dam, sire) for dam in dams for sire in sires]
