"""Ways to a project's goal side by side; the chosen one becomes its plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from django import forms
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from keeper.access import account
from keeper.domain import inference
from keeper.domain.book.daybook import moment
from keeper.domain.book.writing import Refused
from keeper.domain.inference import (
    MOST_AT_HAND,
    Unanswerable,
    Way,
    WayParent,
    Ways,
    WayStep,
)
from keeper.domain.projects import outlook, plans
from keeper.domain.projects.offered import offer, offers
from keeper.domain.projects.plans import clutch_said, way_words
from keeper.domain.projects.queries import members_here, with_goal
from keeper.domain.saying.counts import how_many
from keeper.domain.saying.figures import percent
from keeper.models import Animal, Plan, Project, Sex
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.forms import SeveralChoice
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import said, written_for_reason
from keeper.pages.frame.requests import form_view, reading
from keeper.pages.projects.page import goal_in_words

KEPT_FOR = 3600
MOST_GENERATIONS = 3


class WaysForm(forms.Form):
    """From whom, and how far."""

    animals = SeveralChoice(
        Animal.objects.none(),
        label="From these",
        widget=forms.CheckboxSelectMultiple,
        help_text=f"At most {MOST_AT_HAND}, of known sex.",
        error_messages={"required": "Choose at least two."},
    )
    generations = forms.TypedChoiceField(
        choices=[(1, "one"), (2, "two"), (3, "three")], coerce=int, label="Generations, at most"
    )
    eggs = forms.IntegerField(min_value=1, max_value=200, label="Hatchlings a clutch")
    bought = forms.ChoiceField(required=False, label="And with them")

    def __init__(
        self, data: Any, *, project: Project, members: Sequence[Animal], initial: dict[str, Any]
    ) -> None:
        if data is not None:
            data = data.copy()
            for name in ("generations", "eggs", "bought"):
                data.setdefault(name, initial[name])
        super().__init__(data, initial=initial)
        bought: Any = self.fields["bought"]
        bought.choices = [("", "nobody"), *((one.key, one.words) for one in offers(project))]
        field: Any = self.fields["animals"]
        field.queryset = Animal.objects.filter(pk__in=[one.pk for one in members]).order_by("code")

    def clean_animals(self) -> list[Animal]:
        """Refuse more than can be weighed."""
        chosen = list(self.cleaned_data["animals"])
        if len(chosen) > MOST_AT_HAND:
            raise ValidationError(
                f"{len(chosen)} are too many to weigh every way. Choose at most {MOST_AT_HAND}."
            )
        return chosen


@dataclass(frozen=True)
class StepRow:
    """One step of a way in words."""

    number: int
    pair: str
    keep: str
    each: str
    clutch: str
    known: str
    needed: str


@dataclass(frozen=True)
class WayCard:
    """A way, as it stands beside others."""

    index: int
    generations: list[list[StepRow]]
    seasons: str
    hatchlings: str
    places: str
    sign: str
    bought: bool


@reading
@form_view
def ways(request: HttpRequest, pk: int) -> HttpResponse:
    """Show ways to the goal; sent with one of them, make it the project's plan."""
    project: Project = get_object_or_404(with_goal(Project.objects.live()), pk=pk)
    members = list(members_here(project))
    animals = [one.animal for one in members if one.animal.sex != Sex.UNKNOWN]
    initial = _initial(project, animals)
    form = WaysForm(request.GET or None, project=project, members=animals, initial=initial)
    context: dict[str, Any] = {
        "form": form, "project": project, "goal": goal_in_words(project), "animals": animals,
    }  # fmt: skip
    if animals and (not request.GET or form.is_valid()):
        given = form.cleaned_data if request.GET else initial
        chosen = [one for one in animals if one in given["animals"]]
        try:
            found = _found(project, chosen, given)
        except Unanswerable as error:
            context["trouble"] = str(error)
        else:
            if request.method == "POST":
                answer = _choose(request, project, found, given)
                if isinstance(answer, HttpResponse):
                    return answer
                context["trouble"] = answer
            context["conflict"] = found.conflict
            context["cards"] = _cards(project, found)
    return render(request, "projects/ways.html", context)


def _initial(project: Project, animals: Sequence[Animal]) -> dict[str, Any]:
    species = project.species
    return {
        "animals": _likeliest(project, animals),
        "generations": 2,
        "eggs": max(1, round(species.eggs_usual * float(species.hatch_rate))),
        "bought": "",
    }


def _likeliest(project: Project, animals: Sequence[Animal]) -> list[Animal]:
    """The members most likely to carry all of the goal, of both sexes, as many as can be asked."""
    if len(animals) <= MOST_AT_HAND:
        return list(animals)
    chances = inference.goal_chances(project, animals)
    ranked = sorted(animals, key=lambda one: (-chances.get(one.pk, 0.0), one.code))
    half = MOST_AT_HAND // 2
    females = [one for one in ranked if one.sex == Sex.FEMALE][:half]
    males = [one for one in ranked if one.sex == Sex.MALE][:half]
    chosen = [*females, *males]
    chosen += [one for one in ranked if one not in chosen][: MOST_AT_HAND - len(chosen)]
    return chosen


def _found(project: Project, animals: Sequence[Animal], given: Mapping[str, Any]) -> Ways:
    """The ways, kept until anything is written."""
    who = "-".join(str(one.pk) for one in animals)
    asked = f"{given['generations']}-{given['eggs']}-{given['bought']}"
    key = f"ways-{project.pk}-{moment()}-{who}-{asked}"
    kept: Ways | None = cache.get(key)
    if kept is None:
        kept = inference.ways(
            project,
            animals,
            generations=given["generations"],
            eggs=given["eggs"],
            mature=outlook.course_of(project, ()).mature_female,
            bought=offer(project, given["bought"]) if given["bought"] else None,
        )
        cache.set(key, kept, KEPT_FOR)
    return kept


def _choose(
    request: HttpRequest, project: Project, found: Ways, given: Mapping[str, Any]
) -> HttpResponse | str:
    sent = request.POST.get("way", "")
    way = next((one for one in found.ways if sign(one) == sent), None)
    if way is None:
        return "The book has changed since: these are the ways now. Choose again."
    words = {step.number: way_words(step) for step in way.steps}
    today = timezone.localdate()
    try:
        entry = plans.choose_way(
            project=project, way=way, on=today, eggs=given["eggs"], words=words, by=account(request)
        )
    except (Refused, ValidationError) as error:
        return said(error)
    return after_save("projects-one", entry, pk=project.pk)


def _cards(project: Project, found: Ways) -> list[WayCard]:
    wanted = {
        parent.animal
        for way in found.ways
        for step in way.steps
        for parent in (step.dam, step.sire)
        if parent.animal is not None
    }
    codes = dict(Animal.objects.filter(pk__in=wanted).values_list("pk", "code"))
    return [_card(number, way, project, codes) for number, way in enumerate(found.ways, start=1)]


def _card(number: int, way: Way, project: Project, codes: Mapping[int, str]) -> WayCard:
    rows: dict[int, list[StepRow]] = {}
    for step in way.steps:
        pair = f"{_parent(step.dam, codes)} × {_parent(step.sire, codes)}"
        rows.setdefault(step.generation, []).append(
            StepRow(
                step.number, pair, way_words(step), percent(step.chance),
                clutch_said(step.chance, step.clutch, step.sex), _known(step), _needed(step),
            )
        )  # fmt: skip
    kept = sum(2 if step.sex == "both" else 1 for step in way.steps)
    return WayCard(
        index=number,
        generations=list(rows.values()),
        seasons=f"{ceil(way.seasons * 10 - 1e-9) / 10:.1f}",
        hatchlings=_hatchlings(way),
        places=how_many(kept, "place"),
        sign=sign(way),
        bought=any(parent == WayParent() for step in way.steps for parent in (step.dam, step.sire)),
    )


def sign(way: Way) -> str:
    """Return what names a way: its crosses and what is kept of each."""
    return "/".join(
        f"{step.dam.animal or f'k{step.dam.step}'}x{step.sire.animal or f'k{step.sire.step}'}"
        f":{step.sex}:{''.join('+' if shown else '-' for _, shown in sorted(step.shows.items()))}"
        for step in way.steps
    )


def _parent(one: WayParent, codes: Mapping[int, str]) -> str:
    if one.animal is not None:
        return codes.get(one.animal, "?")
    return "one bought" if one.step is None else f"what step {one.step} keeps"


def _needed(step: WayStep) -> str:
    if step.needed is None:
        return "no number of hatchlings is sure to give it"
    return f"{how_many(step.needed, 'hatchling')} for 95 %"


def _hatchlings(way: Way) -> str:
    """How many hatchlings make every step likely, where a number does."""
    needed = [step.needed for step in way.steps]
    if None in needed:
        return ""
    whole = sum(one for one in needed if one is not None)
    return f"{how_many(whole, 'hatchling')} for 95 % at each step"


def _known(step: WayStep) -> str:
    if step.last:
        return ""
    return "all such carry the same" if step.known else "not all such carry the same"


@form_view
def give_up(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a project's plan up, with a reason."""
    rows = Plan.objects.live().select_related("project")
    plan: Plan = get_object_or_404(rows, pk=pk)
    form = ReasonForm(request.POST or None)
    entry = written_for_reason(
        form, lambda reason: plans.give_up_plan(plan=plan, reason=reason, by=account(request))
    )
    if entry is not None:
        return after_save("projects-one", entry, pk=plan.project_id)
    return render(request, "projects/give_up.html", {"form": form, "plan": plan})
