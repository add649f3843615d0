"""When a project's goal will be reached, and what would help it most."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.domain.inference import BreedingCourse, Outlook, Unanswerable
from keeper.domain.projects import outlook as domain
from keeper.domain.projects.queries import members_here, with_goal
from keeper.domain.saying.counts import how_many
from keeper.domain.saying.curves import BAR, Curve, curve
from keeper.domain.season.writes import season_of
from keeper.models import Member, Project
from keeper.pages.frame.requests import require_safe, wants_part
from keeper.pages.projects.page import goal_in_words

# What names a part of a page, beside the question that it answers.
_PARTS = {"part", "change", "now", "done", "again"}
# A sum of floats may lie a hair beside the points that it means.
_HAIR = 1e-9


class OutlookForm(forms.Form):
    """How the project is bred on."""

    seasons = forms.IntegerField(min_value=1, max_value=30, label="Seasons ahead")
    pairs = forms.IntegerField(min_value=1, max_value=40, label="Pairs a season")
    matings = forms.IntegerField(min_value=1, max_value=20, label="Females a male")
    places = forms.IntegerField(
        min_value=1, max_value=200, required=False, label="Places",
        help_text="Animals kept for it; empty: no limit.",
    )  # fmt: skip
    eggs = forms.IntegerField(min_value=1, max_value=200, label="Eggs a clutch")
    hatch = forms.IntegerField(min_value=1, max_value=100, label="Of which hatch", help_text="%")
    lays = forms.IntegerField(
        min_value=1, max_value=100, label="A female lays", help_text="% of seasons"
    )
    lives = forms.IntegerField(
        min_value=1, max_value=100, label="An animal lives on", help_text="% a season"
    )

    def __init__(self, data: Any, *, course: BreedingCourse) -> None:
        initial = {
            "seasons": course.seasons,
            "pairs": course.pairs,
            "matings": course.matings,
            "places": course.places,
            "eggs": course.eggs,
            "hatch": round(course.hatch * 100),
            "lays": round(course.lays * 100),
            "lives": round(course.lives * 100),
        }
        if data is not None:
            data = data.copy()
            for name, value in initial.items():
                data.setdefault(name, "" if value is None else value)
        super().__init__(data, initial=initial)
        self.course = course
        for field in self.fields.values():
            field.widget.attrs["inputmode"] = "numeric"

    def asked(self) -> BreedingCourse:
        """Return the course that was asked for."""
        given = self.cleaned_data
        return replace(
            self.course,
            seasons=given["seasons"],
            pairs=given["pairs"],
            matings=given["matings"],
            places=given["places"],
            eggs=given["eggs"],
            hatch=given["hatch"] / 100,
            lays=given["lays"] / 100,
            lives=given["lives"] / 100,
        )


@dataclass(frozen=True)
class SeasonRow:
    """A season of the table: the year, the chance by then, its error, and that of the change."""

    year: int
    chance: str
    error: str
    other: str = ""


@dataclass(frozen=True)
class OutlookPage:
    """The outlook of a project, perhaps beside that of a change."""

    sentence: str
    rows: list[SeasonRow]
    curve: Curve
    exact: bool
    conflict: tuple[str, ...]
    runs: int
    other: str = ""
    gain: str = ""


@require_safe
def outlook(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the outlook; `?change=…` beside that of a change. Parts are worked out when asked."""
    project: Project = get_object_or_404(with_goal(Project.objects.live()), pk=pk)
    members = list(members_here(project))
    course = domain.course_of(project, members)
    asked = request.GET if request.GET.keys() - _PARTS else None
    form = OutlookForm(asked, course=course)
    if asked is not None:
        if not form.is_valid():
            return render(request, "projects/outlook.html", {"form": form, "project": project})
        course = form.asked()
    change = request.GET.get("change", "")
    changes = domain.changes(project, members, course)
    # A test that is not among the first few can be asked about all the same.
    named = {one.key: one for one in (*domain.tests(project, members), *changes)}
    if change and change not in named:
        raise Http404
    context: dict[str, Any] = {
        "form": form, "project": project, "goal": goal_in_words(project), "members": members,
        "changes": changes, "asked": question_of(request),
    }  # fmt: skip
    part = request.GET.get("part", "") if wants_part(request) else ""
    if members and (part or change or "now" in request.GET):
        try:
            context["page"] = _page(project, members, course, named.get(change))
        except Unanswerable as error:
            context["trouble"] = str(error)
        if part == "change":
            context["key"] = change
            return render(request, "projects/outlook.html#change", context)
    if part:
        return render(request, "projects/outlook.html#now", context)
    return render(request, "projects/outlook.html", context)


def question_of(request: HttpRequest) -> str:
    """Return the question of the page without what names a part of it, for its links."""
    kept = request.GET.copy()
    for name in _PARTS:
        kept.pop(name, None)
    return f"{kept.urlencode()}&" if kept else ""


def _page(
    project: Project,
    members: Sequence[Member],
    course: BreedingCourse,
    change: domain.Change | None,
) -> OutlookPage:
    today = timezone.localdate()
    first = season_of(today)
    base = domain.outlook_of(project, members, course, today, "")
    other = domain.outlook_of(project, members, course, today, change.key) if change else None
    years = [first + n for n in range(course.seasons)]
    words = change.words if change else ""
    series = [("As things are", base.chances, base.errors)]
    if other is not None:
        series.append((words, other.chances, other.errors))
    return OutlookPage(
        sentence=_sentence(base, first),
        rows=[
            SeasonRow(
                year,
                domain.chance_said(base, n + 1),
                _points_up(BAR * base.errors[n]) if base.errors[n] else "",
                domain.chance_said(other, n + 1) if other is not None else "",
            )
            for n, year in enumerate(years)
        ],
        curve=curve([str(year) for year in years], series),
        exact=base.exact,
        conflict=base.conflict,
        runs=0 if base.exact else course.runs,
        other=words,
        gain=gain_said(base, other, first) if other is not None else "",
    )


def _sentence(found: Outlook, first: int) -> str:
    if found.chances[-1] <= 0:
        return "It cannot be reached from these animals: something that it takes is not there."
    words = []
    if found.median is not None:
        words.append(f"As likely as not by {first + found.median - 1}.")
    else:
        last = len(found.chances)
        words.append(f"By {first + last - 1} the chance is {domain.chance_said(found, last)}.")
    if found.tenth is not None and found.ninetieth is not None:
        early, late = first + found.tenth - 1, first + found.ninetieth - 1
        words.append(f"One time in ten by {early} already, one time in ten not by {late} yet.")
    elif found.tenth is not None:
        words.append(f"One time in ten by {first + found.tenth - 1} already.")
    return " ".join(words)


def gain_said(base: Outlook, other: Outlook, first: int) -> str:
    """Say what a change gains; `first` is the year of the first season."""
    return gain_in_words(domain.gain(base, other), base.median, first)


def gain_in_words(found: domain.Gain, median: int | None, first: int) -> str:
    """Say a gain; `median` is the season of the even chance without it."""
    year = first + found.by - 1
    half = BAR * found.error
    if abs(found.more) <= half or abs(found.more) < 0.005:
        said = f"no difference that shows by {year}"
        said += f" (within {_points_up(half)})" if half else ""
    else:
        more = "more" if found.more > 0 else "less"
        # A gain is a claim and rounds down; what is lost, and errors, round up.
        points = _points_down if found.more > 0 else _points_up
        said = f"{points(abs(found.more))} {more} by {year}"
        if half:
            said += f" (give or take {_points_up(half)})"
    if median and found.median and found.median < median:
        seasons = median - found.median
        said += f"; the even chance comes {seasons} season{'s' if seasons > 1 else ''} sooner"
    return said


def _points_down(share: float) -> str:
    return _points(floor(share * 1000 + _HAIR), floor(share * 100 + _HAIR))


def _points_up(share: float) -> str:
    return _points(ceil(share * 1000 - _HAIR), ceil(share * 100 - _HAIR))


def _points(tenths: int, whole: int) -> str:
    """A difference of chances in points of percent, to one place where it is small."""
    if tenths < 1:
        return "under 0.1 points"
    return f"{tenths / 10:.1f} points" if tenths < 100 else how_many(whole, "point")
