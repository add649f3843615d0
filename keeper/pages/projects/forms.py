"""Projects, what they are after, and who is held back for them."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from keeper.domain.projects import queries
from keeper.domain.projects.writes import Requirement, Wanted
from keeper.models import (
    Animal,
    Clutch,
    GoalLook,
    GoalPart,
    Line,
    Member,
    NamedLook,
    Need,
    Project,
    Shown,
    Species,
    Trait,
)
from keeper.pages.frame.fields import ReasonForm, day_input
from keeper.pages.frame.forms import BookForm, SeveralChoice
from keeper.pages.frame.picking import animal_of


class ProjectForm(BookForm[Project]):
    """What a project is called, and how many animals of which sex it is after."""

    class Meta:
        model = Project
        fields = ["name", "species", "wanted", "sex", "places", "notes"]
        labels = {"wanted": "How many", "sex": "Sex", "places": "Places"}
        help_texts = {"wanted": ""}
        widgets = {
            "wanted": forms.NumberInput(attrs={"inputmode": "numeric"}),
            "places": forms.NumberInput(attrs={"inputmode": "numeric", "min": 1}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        species: Any = self.fields["species"]
        species.queryset = Species.objects.live().order_by("name")
        species.empty_label = None if species.queryset.count() == 1 else "choose"
        if self.instance.pk:
            species.disabled = True
            self.fields["reason"] = forms.CharField(
                max_length=200, required=False, label="Why the change"
            )


class PartForm(forms.Form):
    """One part of a goal: a gene, and what the animal must be in it."""

    need = forms.ChoiceField(choices=Need.choices, label="It")
    gene = forms.ChoiceField(required=False, label="Gene")

    def clean_gene(self) -> tuple[Trait, Line | None] | NamedLook | None:
        """Return the trait and, if one was chosen, its line; or a named look, which is shown."""
        return self.genes.get(self.cleaned_data["gene"])

    def clean(self) -> dict[str, Any]:
        """Refuse a look without lines of its own that is to be carried."""
        cleaned = super().clean() or {}
        wanted, need = cleaned.get("gene"), cleaned.get("need")
        look = wanted if isinstance(wanted, NamedLook) else wanted[0] if wanted else None
        if look is not None and need not in {None, Need.SHOWS} and _is_only_seen(look):
            self.add_error("need", f"{look} is seen, not carried: choose “shows it”.")
        return cleaned

    def __init__(self, *args: Any, genes: dict[str, Any], choices: list[Any], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.genes = genes
        gene: Any = self.fields["gene"]
        gene.choices = choices


def _is_only_seen(look: Trait | NamedLook) -> bool:
    """Whether nothing is called so that an animal may have a copy of."""
    if isinstance(look, NamedLook):
        return True
    return look.shown in {Shown.EVERY, Shown.RULES} and not look.lines.live().exists()


_Parts = forms.formset_factory(PartForm, extra=0)
_ROWS = 3


class GoalForm:
    """The rows of a goal, some of them empty, all choosing from the same genes."""

    def __init__(
        self,
        data: Any = None,
        *,
        parts: list[GoalPart] | None = None,
        looks: Sequence[GoalLook] = (),
    ) -> None:
        genes, choices = _genes()
        initial = [
            {"need": one.need, "gene": f"l{one.line_id}" if one.line_id else f"t{one.trait_id}"}
            for one in parts or []
        ]
        initial += [{"need": Need.SHOWS, "gene": f"n{one.look_id}"} for one in looks]
        if data is not None and "more" in data:
            data, initial = None, _typed(data)
        initial += [{}] * max(1, _ROWS - len(initial))
        self.formset = _Parts(
            data,
            prefix="goal",
            # Beside what was typed, a row that nobody changed would be taken for an empty one.
            initial=None if data is not None else initial,
            form_kwargs={"genes": genes, "choices": choices},
        )

    def is_valid(self) -> bool:
        """Whether every row can be read."""
        return bool(self.formset.is_valid())

    def parts(self) -> list[Wanted]:
        """Return the parts that were filled in."""
        rows = [form.cleaned_data for form in self.formset if form.cleaned_data.get("gene")]
        return [
            row["gene"]
            if isinstance(row["gene"], NamedLook)
            else Requirement(row["gene"][0], row["gene"][1], row["need"])
            for row in rows
        ]


def _typed(data: Any) -> list[dict[str, str]]:
    """Return the rows of a goal as they were typed, to show them again with one more."""
    rows = range(min(20, sum(name.endswith("-gene") for name in data)))
    return [{name: data.get(f"goal-{row}-{name}", "") for name in ("need", "gene")} for row in rows]


def _genes() -> tuple[dict[str, Any], list[Any]]:
    """Return what the values of a choice mean, and the choices, grouped by species."""
    found: dict[str, Any] = {}
    groups: dict[str, list[tuple[str, str]]] = {}
    for trait in queries.genes():
        group = groups.setdefault(str(trait.species), [])
        found[f"t{trait.pk}"] = (trait, None)
        group.append((f"t{trait.pk}", f"{trait}, any line"))
        for line in trait.live_lines:
            found[f"l{line.pk}"] = (trait, line)
            group.append((f"l{line.pk}", f"{line} ({line.name or line.label})"))
    for look in queries.named_looks():
        found[f"n{look.pk}"] = look
        groups.setdefault(str(look.species), []).append(
            (f"n{look.pk}", f"{look} (look of several genes)")
        )
    return found, [("", "–"), *groups.items()]


class ReviewForm(ReasonForm):
    """When to look at a holdback again, and why then."""

    review_on = forms.DateField(label="Look again on", widget=day_input())
    field_order = ["review_on", "reason"]

    def clean_review_on(self) -> date:
        """Refuse a day that is past."""
        day: date = self.cleaned_data["review_on"]
        if day < timezone.localdate():
            raise ValidationError("That day is past. Choose today or a later day.")
        return day


class ReleaseForm(ReasonForm):
    """When an animal was let go, and why."""

    on = forms.DateField(label="Released on", widget=day_input())
    field_order = ["on", "reason"]


class HoldYoungForm(forms.Form):
    """Which hatchlings of a clutch, for which project, why, and when to look at them again."""

    young = SeveralChoice(
        Animal.objects.none(),
        label="Which",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one."},
    )
    project = forms.ModelChoiceField(Project.objects.none(), empty_label="choose")
    reason = forms.CharField(max_length=200, label="Why these")
    since = forms.DateField(widget=day_input())
    review_on = forms.DateField(label="Look at them again on", widget=day_input())

    def __init__(self, *args: Any, clutch: Clutch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        young: Any = self.fields["young"]
        young.queryset = queries.may_join(None).filter(clutch=clutch).order_by("code")
        project: Any = self.fields["project"]
        project.queryset = queries.open_projects(clutch.species)
        if len(only := list(project.queryset[:2])) == 1:
            project.initial = only[0].pk

    def members(self) -> list[Member]:
        """Return the rows that were filled in, not yet kept."""
        given = self.cleaned_data
        shared = {name: given[name] for name in ("project", "reason", "since", "review_on")}
        return [Member(animal=one, holdback=True, **shared) for one in given["young"]]


class HoldForm(forms.Form):
    """Which animal, for which project, why, and when to look at it again."""

    code = forms.CharField(
        max_length=24,
        label="Animal",
        help_text="Its code.",
        widget=forms.TextInput(
            attrs={"list": "codes", "autocomplete": "off", "autocapitalize": "characters"}
        ),
    )
    project = forms.ModelChoiceField(Project.objects.none(), empty_label="choose")
    kind = forms.ChoiceField(
        label="It is",
        choices=[("holdback", "a hatchling held back"), ("breeder", "a breeder")],
        widget=forms.RadioSelect(),
        initial="holdback",
    )
    reason = forms.CharField(max_length=200, label="Why this one")
    since = forms.DateField(widget=day_input())
    review_on = forms.DateField(
        label="Look at it again on",
        help_text="A breeder needs no such day.",
        error_messages={"required": "Say when to look at this holdback again."},
        widget=day_input(),
    )

    # The day is asked of hatchlings alone, so the browser must not insist on it.
    use_required_attribute = False

    def __init__(self, *args: Any, species: Species | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["review_on"].required = self.data.get("kind") != "breeder"
        project: Any = self.fields["project"]
        project.queryset = queries.open_projects(species)

    def clean_code(self) -> Animal:
        """Find the animal by its code, however it is typed."""
        return animal_of(str(self.cleaned_data["code"]).strip())

    def member(self) -> Member:
        """Return the row that was filled in, not yet kept."""
        given = self.cleaned_data
        return Member(
            project=given["project"],
            animal=given["code"],
            holdback=given["kind"] == "holdback",
            reason=given["reason"],
            since=given["since"],
            review_on=given["review_on"],
        )
