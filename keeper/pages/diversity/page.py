"""What the page of a collection's genetic health shows."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from keeper.domain.diversity.health import Health, LineHealth, ProjectHealth, Ranked
from keeper.domain.diversity.keeping import Asked, Figures, Shown
from keeper.domain.diversity.lines import LineRest
from keeper.domain.diversity.seasons import LEAST_YEARS, Bred, Trend
from keeper.domain.inference import Group
from keeper.domain.saying.counts import how_many
from keeper.domain.saying.figures import (
    equivalents,
    is_close_kin,
    kinship,
    kinship_like,
    percent,
)
from keeper.models import Animal, Line, Project, Species
from keeper.pages.diversity.yearplot import YearPlot, year_plot

# So many of the animals that a line goes back to are named.
_NAMED = 6


@dataclass(frozen=True)
class GroupRow:
    """A species or a project in a table of such; without figures where no animal is in it."""

    name: str
    query: str
    current: bool
    animals: int
    founders: int = 0
    equivalents: str = ""
    genomes: str = ""
    mean: str = ""
    pairs: int = 0
    lowest: str = ""
    average: str = ""
    highest: str = ""
    close: bool = False


@dataclass(frozen=True)
class FiguresInWords:
    """The figures of the scope in words; `unrecorded` founders are parents without a record."""

    founders: int
    unrecorded: int
    equivalents: str
    genomes: str
    mean: str
    diversity: str
    to_all: str


@dataclass(frozen=True)
class RankedRow:
    """An animal and its mean kinship, or a founder and its share."""

    animal: Animal
    figure: str


@dataclass(frozen=True)
class LineRow:
    """A line: who carries it, and to whom they go back."""

    line: Line
    certain: int
    possible: int
    words: str
    named: tuple[Animal, ...]
    more: int
    every: int
    mean: str


@dataclass(frozen=True)
class YearRow:
    """A year of hatching."""

    year: int
    clutches: int
    mean: str
    highest: str
    close: bool


@dataclass(frozen=True)
class BredRow:
    """A clutch on the way or a planned pairing."""

    bred: Bred
    inbreeding: str
    like: str
    close: bool


@dataclass(frozen=True)
class DiversityPage:
    """Everything the page prints.

    Attributes:
        query: what names the scope in an address.
        said: of which book the figures are; where there are none, nothing of what follows is.
        unknown: no parent of any animal is recorded, so nothing tells kin from strangers.
    """

    species: Species
    project: Project | None
    query: str
    said: Shown
    living: int = 0
    figures: FiguresInWords | None = None
    unknown: bool = False
    left_out: int = 0
    species_rows: Sequence[GroupRow] = ()
    project_rows: Sequence[GroupRow] = ()
    rarest: Sequence[RankedRow] = ()
    commonest: Sequence[RankedRow] = ()
    founders: Sequence[RankedRow] = ()
    lines: Sequence[LineRow] = ()
    years: Sequence[YearRow] = ()
    plot: YearPlot | None = None
    trend: str = ""
    on_the_way: Sequence[BredRow] = ()
    planned: Sequence[BredRow] = ()

    @property
    def is_there(self) -> bool:
        """Whether there are figures."""
        return self.said.figures is not None

    @property
    def ranked(self) -> tuple[tuple[str, Sequence[RankedRow]], ...]:
        """The two ends of the ranking, each with its title; of few animals the rarest alone."""
        ends = (("The rarest", self.rarest), ("The commonest", self.commonest))
        return ends if self.living > len(self.rarest) else (("All of them", self.rarest),)


def diversity_page(asked: Asked, shown: Shown) -> DiversityPage:
    """Return the page of a species, or of a project of it."""
    page = DiversityPage(
        species=asked.species,
        project=asked.project,
        query=query_of(asked),
        said=shown,
    )
    return page if shown.figures is None else _with_figures(page, shown.figures)


def query_of(asked: Asked) -> str:
    """Return what names the scope in an address."""
    return f"project={asked.project.pk}" if asked.project else f"species={asked.species.pk}"


def _with_figures(page: DiversityPage, figures: Figures) -> DiversityPage:
    found, whole, project = figures.found, figures.whole, page.project
    return replace(
        page,
        living=found.living,
        figures=_figures(found),
        unknown=_is_unknown(found),
        left_out=found.left_out,
        species_rows=[
            _species_row(one, current=project is None and one.species.pk == page.species.pk)
            for one in figures.by_species
        ],
        project_rows=[_project_row(one, project) for one in whole.projects],
        rarest=_means(found.rarest),
        commonest=_means(found.commonest),
        founders=[RankedRow(one.animal, percent(one.value)) for one in found.founders],
        lines=[_line(one) for one in found.lines],
        years=[
            YearRow(
                one.year,
                one.clutches,
                kinship(one.mean),
                kinship(one.highest),
                is_close_kin(one.highest),
            )
            for one in found.years
        ],
        plot=year_plot(found.years),
        trend=trend_words(found.trend, len(found.years)),
        on_the_way=[_bred(one) for one in found.on_the_way],
        planned=[_bred(one) for one in found.planned],
    )


def goes_back(rest: LineRest) -> str:
    """Say to how many animals those that certainly carry a line go back; who follows."""
    if not rest.certain:
        return "None is certain to carry it."
    if rest.certain == 1:
        whose = "The one that certainly carries it goes"
    elif rest.certain == 2:
        whose = "Both that certainly carry it go"
    else:
        whose = f"All {rest.certain} that certainly carry it go"
    if rest.most == 1:
        return f"{whose} back to one animal:"
    if rest.least == rest.most:
        return f"{whose} back to {rest.most} animals:"
    return f"{whose} back to no fewer than {rest.least} and no more than {rest.most} of these:"


def trend_words(trend: Trend | None, years: int) -> str:
    """Say how inbreeding moved."""
    if not years:
        return ""
    if trend is None:
        return (
            f"A trend takes {LEAST_YEARS} years in which clutches hatched, "
            "and parents whose hatching is known."
        )
    of = f"{how_many(trend.clutches, 'clutch', 'clutches')} of {trend.years} years"
    if trend.size is None:
        return f"Over the {of} inbreeding did not rise."
    return (
        f"Over the {of} inbreeding rose as in a closed group of {equivalents(trend.size)} breeding "
        f"animals (effective size), with {equivalents(trend.generation)} years a generation. Of so "
        "few clutches it is rough."
    )


def _figures(found: Health) -> FiguresInWords | None:
    group = found.group
    if group is None:
        return None
    return FiguresInWords(
        founders=len(group.shares) + len(group.unrecorded),
        unrecorded=len(group.unrecorded),
        equivalents=equivalents(group.equivalents),
        genomes=equivalents(group.genomes),
        mean=kinship(group.mean),
        diversity=percent(1 - group.mean),
        to_all=kinship(found.to_all),
    )


def _is_unknown(found: Health) -> bool:
    group = found.group
    return group is not None and not group.unrecorded and len(group.shares) == found.living


def _species_row(found: Health, *, current: bool) -> GroupRow:
    return _group_row(
        str(found.species), f"species={found.species.pk}", current, found.living, found.group
    )


def _project_row(found: ProjectHealth, project: Project | None) -> GroupRow:
    current = project is not None and project.pk == found.project.pk
    row = _group_row(
        found.project.name, f"project={found.project.pk}", current, found.members, found.group
    )
    if found.group is None:
        return row
    return replace(
        row,
        pairs=found.pairs,
        lowest=kinship(found.lowest),
        average=kinship(found.mean),
        highest=kinship(found.highest),
        close=is_close_kin(found.highest),
    )


def _group_row(name: str, query: str, current: bool, animals: int, group: Group | None) -> GroupRow:
    if group is None:
        return GroupRow(name, query, current, 0)
    return GroupRow(
        name,
        query,
        current,
        animals,
        founders=len(group.shares) + len(group.unrecorded),
        equivalents=equivalents(group.equivalents),
        genomes=equivalents(group.genomes),
        mean=kinship(group.mean),
    )


def _means(ranked: Sequence[Ranked]) -> list[RankedRow]:
    return [RankedRow(one.animal, kinship(one.value)) for one in ranked]


def _line(found: LineHealth) -> LineRow:
    rest = found.rest
    return LineRow(
        line=rest.line,
        certain=rest.certain,
        possible=rest.possible,
        words=goes_back(rest),
        named=rest.earliest[:_NAMED],
        more=max(0, len(rest.earliest) - _NAMED),
        every=rest.every,
        mean=kinship(found.mean),
    )


def _bred(one: Bred) -> BredRow:
    value = one.inbreeding
    return BredRow(one, kinship(value), kinship_like(value), is_close_kin(value))
