"""Whom to hold back of a clutch, on the hatch's own page."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.domain.inference import Unanswerable
from keeper.domain.projects import holdbacks as domain
from keeper.domain.projects.outlook import Sooner
from keeper.domain.projects.queries import open_projects, with_goal
from keeper.models import Clutch, Sex
from keeper.pages.frame.requests import require_safe, wants_part

_LOOK_AGAIN = timedelta(days=365)
_SEXES = {Sex.MALE: "male", Sex.FEMALE: "female", Sex.UNKNOWN: "of unknown sex"}


@dataclass(frozen=True)
class AdviceRow:
    """Hatchlings that are alike, and what one of them is worth to the project."""

    codes: str
    sex: str
    words: str
    kept: int


@dataclass(frozen=True)
class AdvicePage:
    """The advice for one project, and what holds those that it names back at once."""

    advice: domain.Advice
    sentence: str
    rows: list[AdviceRow]
    reason: str
    since: date
    review_on: date


@require_safe
def holdbacks(request: HttpRequest, pk: int) -> HttpResponse:
    """Show whom to hold back of a clutch, project by project."""
    clutch = get_object_or_404(Clutch.objects.live().select_related("species"), pk=pk)
    today = timezone.localdate()
    pages, trouble = [], []
    for project in with_goal(open_projects(clutch.species)):
        try:
            found = domain.advice(project, clutch, today)
        except Unanswerable as error:
            trouble.append(f"{project}: {error}")
            continue
        if found is not None:
            pages.append(_page(found, clutch, today))
    context = {"clutch": clutch, "pages": pages, "trouble": trouble}
    name = "projects/advice.html#advice" if wants_part(request) else "projects/advice.html"
    return render(request, name, context)


def _page(found: domain.Advice, clutch: Clutch, today: date) -> AdvicePage:
    return AdvicePage(
        advice=found,
        sentence=_sentence(found, len(domain.young_of(clutch))),
        rows=[_row(row) for row in found.rows] if found.keep else [],
        reason=f"Brings {found.project} nearest, by what was known on hatch day."[:200],
        since=today,
        review_on=today + _LOOK_AGAIN,
    )


def _sentence(found: domain.Advice, young: int) -> str:
    before, after = found.said
    if not found.keep:
        return f"None of them brings it nearer. The chance is {before} by {found.by}."
    codes = ", ".join(one.code for one in found.keep)
    said = f"Keep {found.males_females} of these {young}: {codes}. {_nearer(found.sooner)}"
    if found.after > found.before and before != after:
        said += f", and the chance by {found.by} rises from {before} to {after}"
    return f"{said}."


def _nearer(found: Sooner) -> str:
    """How much sooner the goal comes; a claim, so rounded down."""
    tenths = int(found.seasons * 10)
    if not tenths:
        return "The goal comes sooner, by less than a tenth of a season"
    return f"The goal comes {tenths / 10:g} season{'s' if tenths != 10 else ''} sooner on average"


def _row(row: domain.Raised) -> AdviceRow:
    tenths = int(row.sooner.seasons * 10)
    if not row.shows:
        words = "brings nothing that shows"
    elif tenths:
        words = f"one brings it {tenths / 10:g} season{'s' if tenths != 10 else ''} nearer"
    else:
        words = "one brings it less than a tenth of a season nearer"
    if len(row.animals) > 1:
        words += "; all of them are alike to it"
    return AdviceRow(
        ", ".join(one.code for one in row.animals), _SEXES[Sex(row.animals[0].sex)], words, row.kept
    )
