"""Of whom it is open what they carry, and who of them can be tested by whom this season."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cached_property

from django.db.models import QuerySet

from keeper.domain.inference import SETTLED
from keeper.domain.projects.queries import genes_of, goal_of, open_projects, with_goal
from keeper.domain.season.queries import Breeders, breeders
from keeper.models import (
    GONE,
    Animal,
    Chromosome,
    GoalPart,
    Laboratory,
    LabTest,
    Line,
    Member,
    Project,
    Sex,
    Shown,
    Species,
    Standing,
    Statement,
    Trait,
    Word,
)

OPEN = (Word.POSSIBLE, Word.CLEAN, Word.STATED, Word.TESTED, Word.LABORATORIES)
"""Words of which a proof would make others."""
_HAIR = 1e-9


def is_open(standing: Standing) -> bool:
    """Whether hatchlings could prove or clear what a standing says.

    A double form is proven as its base; a figure under dispute is mended by mending records.
    """
    return (
        0 < standing.none < 1
        and standing.word in OPEN
        and standing.trait.shown != Shown.EVERY
        and not standing.is_disputed
    )


def is_settled(standing: Standing) -> bool:
    """Whether it is so likely, or so unlikely, that it counts as settled: 99 % either way."""
    return standing.none >= SETTLED - _HAIR or standing.carries >= SETTLED - _HAIR


def possible_carriers() -> QuerySet[Standing]:
    """Return the standings, over all lines, of animals here of which it is open what they carry."""
    rows: QuerySet[Standing] = (
        Standing.objects.filter(
            line=None, none__gt=0, none__lt=1, word__in=OPEN, animal__withdrawn_at=None
        )
        .exclude(animal__status__in=GONE)
        .exclude(trait__shown=Shown.EVERY)
    )
    return rows.select_related("animal__species", "trait", "line", "dispute").order_by(
        "animal__code", "trait__name"
    )


def standing_of(animal: Animal, trait: Trait, line: int | None) -> Standing | None:
    """Return what the book says of an animal and a trait, or one line of it."""
    rows = Standing.objects.filter(animal=animal, trait=trait, line=line)
    found: Standing | None = rows.select_related(
        "animal__species", "trait", "line__trait", "dispute"
    ).first()
    return found


def statements(standings: Iterable[Standing]) -> dict[tuple[int, int], Statement]:
    """Return by animal and trait what a source said, where a word rests on that: one query."""
    stated = [one for one in standings if one.word == Word.STATED]
    rows = (
        Statement.objects.live()
        .filter(
            animal__in={one.animal_id for one in stated}, trait__in={one.trait_id for one in stated}
        )
        .select_related("source", "trait", "line__trait")
        .order_by("-pk")
    )
    # The first that was made counts, as on a sheet.
    return {(one.animal_id, one.trait_id): one for one in rows}


# --- what it matters for -------------------------------------------------------------------------


@dataclass(frozen=True)
class Stake:
    """A project whose goal takes what an animal may carry, and whether the animal is in it."""

    project: Project
    part: GoalPart
    member: bool


def stakes(standings: Iterable[Standing]) -> dict[tuple[int, int], list[Stake]]:
    """Return by animal and trait the open projects that it matters for, those it is in first.

    A part of a goal that takes a line counts where the animal may carry that line.
    """
    standings = list(standings)
    wanted = _wanted()
    members = _members({project.pk for rows in wanted.values() for project, *_ in rows})
    lines = _may_carry(standings)
    found: dict[tuple[int, int], list[Stake]] = {}
    for one in standings:
        rows = [
            Stake(project, part, one.animal_id in members[project.pk])
            for project, part, line in wanted.get(one.trait_id, ())
            if project.species_id == one.animal.species_id
            and (line is None or line in lines[one.animal_id])
        ]
        rows.sort(key=lambda row: (not row.member, row.project.name))
        found[one.animal_id, one.trait_id] = _once(rows)
    return found


def _wanted() -> dict[int, list[tuple[Project, GoalPart, int | None]]]:
    """What goals of open projects take, by the trait of each gene; the line, if it must be one."""
    projects = with_goal(open_projects()).order_by("name", "pk")
    parts = [(project, part) for project in projects for part in goal_of(project)]
    found: dict[int, list[tuple[Project, GoalPart, int | None]]] = defaultdict(list)
    for (project, part), genes in zip(parts, genes_of(part for _, part in parts), strict=True):
        for gene in genes:
            found[gene.trait].append((project, part, gene.line))
    return found


def _members(projects: Collection[int]) -> dict[int, set[int]]:
    found: dict[int, set[int]] = defaultdict(set)
    rows = Member.objects.live().filter(project__in=projects, released_on=None)
    for project, animal in rows.values_list("project_id", "animal_id"):
        found[project].add(animal)
    return found


def _may_carry(standings: Iterable[Standing]) -> dict[int, set[int]]:
    """By animal the lines that it may carry."""
    found: dict[int, set[int]] = defaultdict(set)
    rows = Standing.objects.filter(
        animal__in={one.animal_id for one in standings}, line__isnull=False, none__lt=1
    )
    for animal, line in rows.values_list("animal_id", "line_id"):
        if line is not None:
            found[animal].add(line)
    return found


def _once(rows: list[Stake]) -> list[Stake]:
    """One stake a project."""
    return list({row.project.pk: row for row in reversed(rows)}.values())[::-1]


def laboratories(traits: Iterable[int]) -> dict[int, list[Laboratory]]:
    """Return by trait the laboratories that have tested a line of it: one query."""
    rows = (
        LabTest.objects.live()
        .filter(line__trait__in=list(traits), laboratory__withdrawn_at=None)
        .select_related("laboratory", "line")
        .order_by("laboratory__name", "laboratory_id")
    )
    found: dict[int, dict[int, Laboratory]] = defaultdict(dict)
    for one in rows:
        found[one.line.trait_id][one.laboratory_id] = one.laboratory
    return {trait: list(each.values()) for trait, each in found.items()}


# --- with whom -----------------------------------------------------------------------------------


@dataclass
class Mates:
    """Who may breed in a season, and what stored standings say that they pass on.

    Attributes:
        season: the year.
        breeding: by species who may, and who is left out and why.
        loci: animal and trait → locus → how many copies of the trait's lines a hatchling of it is
            expected to get there.
    """

    season: int
    breeding: dict[int, Breeders]
    loci: dict[tuple[int, int], dict[int, float]]

    @cached_property
    def grown(self) -> set[int]:
        """The ids of all that may breed."""
        return {
            one.pk
            for each in self.breeding.values()
            for one in (*each.females, *each.males)
        }  # fmt: skip

    def why_not(self, animal: Animal) -> str:
        """Why an animal cannot be tested this season; empty where it can."""
        if animal.sex == Sex.UNKNOWN:
            return "its sex is not known: sex it first"
        if animal.pk in self.grown:
            return ""
        left = self.breeding[animal.species_id].left
        return next((one.why for one in left if one.animal.pk == animal.pk), "it is not here")

    def of(self, standing: Standing, most: int) -> list[tuple[float, Animal]]:
        """The mates that promise most by what is stored, each with how much, best first."""
        animal = standing.animal
        each = self.breeding[animal.species_id]
        others = {Sex.FEMALE: each.males, Sex.MALE: each.females}.get(Sex(animal.sex), [])
        rows = [(self._promise(standing, one), one) for one in others]
        rows.sort(key=lambda row: (-row[0], row[1].code))
        return rows[:most]

    def _promise(self, standing: Standing, mate: Animal) -> float:
        """About how likely a hatchling is to tell, were the suspect a carrier: 0 to 1.

        A recessive shows where the mate passes a copy of the same locus on; else a mate without
        it tells most. Where neither is plain, the larger of both counts.
        """
        own = self.loci.get((standing.animal_id, standing.trait_id), {})
        other = self.loci.get((mate.pk, standing.trait_id), {})
        whole = sum(own.values()) or 1.0
        meets = sum(share / whole * min(1.0, other.get(locus, 0.0)) for locus, share in own.items())
        if standing.trait.shown == Shown.RECESSIVE and standing.trait_id not in self._linked:
            return meets / 2
        return max(meets, 1 - meets) / 2

    @cached_property
    def _linked(self) -> set[int]:
        """Traits with a line on a sex chromosome, where daughters may show what a mate lacks."""
        linked = Line.objects.exclude(locus__chromosome=Chromosome.AUTOSOME)
        traits = linked.filter(trait__in={trait for _, trait in self.loci})
        return set(traits.values_list("trait_id", flat=True))


def mates(species: Iterable[Species], traits: Collection[int], season: int) -> Mates:
    """Return who may breed in a season and what they pass on, from stored standings."""
    breeding = {one.pk: breeders(one, season, rest_after=None) for one in species}
    rows = Standing.objects.filter(
        animal__species__in=list(breeding), trait__in=list(traits), line__isnull=False, none__lt=1,
        animal__withdrawn_at=None,
    ).exclude(animal__status__in=GONE)  # fmt: skip
    loci: dict[tuple[int, int], dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for animal, trait, locus, two, one in rows.values_list(
        "animal_id", "trait_id", "line__locus_id", "two", "one"
    ):
        loci[animal, trait][locus or 0] += two + one / 2
    return Mates(season, breeding, {key: dict(each) for key, each in loci.items()})
