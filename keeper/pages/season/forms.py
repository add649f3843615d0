"""What is asked of a season, and one planned pairing."""

from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.utils import timezone

from keeper.domain.season.planning import Pair, Wishes
from keeper.domain.season.writes import season_of
from keeper.models import PlannedPairing, Project, Species
from keeper.pages.frame.forms import BookForm
from keeper.pages.frame.picking import AnimalField

_KINSHIPS = [
    ("0.0625", "first cousins at most (0.0625)"),
    ("0.125", "half-sibs at most (0.125)"),
    ("0.25", "full sibs at most (0.25)"),
    ("", "any"),
]
_RESTS = [
    ("", "none"),
    ("1", "after every season"),
    ("2", "after two seasons running"),
    ("3", "after three seasons running"),
]
MOST_FIXED = 400


def _whole(most: int, **kwargs: Any) -> forms.IntegerField:
    attrs = {"inputmode": "numeric"}
    return forms.IntegerField(max_value=most, widget=forms.NumberInput(attrs=attrs), **kwargs)


class SeasonForm(forms.Form):
    """The limits of a season and what each project counts."""

    species = forms.ModelChoiceField(Species.objects.none(), empty_label=None)
    season = _whole(2200, min_value=1900, label="Season", help_text="Year of laying.")
    matings = _whole(20, min_value=1, label="Females a male", help_text="At most.")
    clutches = _whole(
        999, min_value=0, required=False, label="Clutches", help_text="Room for; empty: any number."
    )
    eggs = _whole(200, min_value=1, label="Hatchlings a clutch", help_text="That live.")
    kinship = forms.ChoiceField(choices=_KINSHIPS, required=False, label="Kinship of a pair")
    rest = forms.ChoiceField(choices=_RESTS, required=False, label="Rest of a female")
    rare = _whole(
        9, min_value=0, required=False, label="Rare lines", help_text="0: do not count. 1 to 9."
    )
    tests = _whole(
        9, min_value=0, required=False, label="Proving", help_text="0: do not count. 1 to 9."
    )
    mixed = forms.BooleanField(
        required=False, label="Pairs may bring two genes of one look together"
    )

    def __init__(self, data: Any, *, species: Species, projects: Sequence[Project]) -> None:
        if data is not None:
            # What an address leaves out is asked as it comes.
            data = data.copy()
            for name, value in self._left_out(species, projects):
                data.setdefault(name, value)
        super().__init__(data, initial=defaults(species), label_suffix="")
        field: Any = self.fields["species"]
        field.queryset = Species.objects.live().order_by("name")
        field.initial = species
        self.projects = projects
        for project in projects:
            self.fields[f"weight_{project.pk}"] = _whole(
                9, min_value=0, required=False, label=str(project), initial=1
            )

    @staticmethod
    def _left_out(species: Species, projects: Sequence[Project]) -> Iterable[tuple[str, Any]]:
        yield "species", species.pk
        yield from defaults(species).items()
        yield from ((f"weight_{project.pk}", 1) for project in projects)

    @property
    def weights(self) -> list[forms.BoundField]:
        """The fields that say what each project counts."""
        return [self[f"weight_{project.pk}"] for project in self.projects]

    def wishes(self, fixed: frozenset[Pair], forbidden: frozenset[Pair]) -> Wishes:
        """Return what was asked, with the pairs that are fixed and forbidden."""
        given = self.cleaned_data
        return Wishes(
            season=given["season"],
            eggs=given["eggs"],
            matings=given["matings"],
            clutches=given["clutches"],
            kinship=float(given["kinship"]) if given["kinship"] else None,
            rest_after=int(given["rest"]) if given["rest"] else None,
            mixed=given["mixed"],
            rare=given["rare"] or 0,
            tests=given["tests"] or 0,
            weights={
                project.pk: 1 if given[f"weight_{project.pk}"] is None
                else given[f"weight_{project.pk}"]
                for project in self.projects
            },
            fixed=fixed,
            forbidden=forbidden,
        )  # fmt: skip


def defaults(species: Species) -> dict[str, Any]:
    """Return what is asked where nothing else is said."""
    alive = Decimal(species.eggs_usual) * Decimal(float(species.hatch_rate))
    return {
        "season": season_of(timezone.localdate()),
        "matings": 3,
        "eggs": max(1, int(alive.quantize(Decimal(1), ROUND_HALF_UP))),
        "kinship": "0.125",
        "rest": "",
        "rare": 0,
        "tests": 0,
    }


class PairingPlanForm(BookForm[PlannedPairing]):
    """One pairing planned by hand."""

    asked_as = {"dam": "dam_code", "sire": "sire_code"}

    dam_code = AnimalField(sex="female", label="Dam")
    sire_code = AnimalField(sex="male", label="Sire")

    class Meta:
        model = PlannedPairing
        fields = ["season", "reason"]
        labels = {"season": "Season", "reason": "Why these two"}
        widgets = {"season": forms.NumberInput(attrs={"inputmode": "numeric"})}

    field_order = ["dam_code", "sire_code", "season", "reason"]

    def _post_clean(self) -> None:
        given = self.cleaned_data
        if given.get("dam_code") and given.get("sire_code"):
            self.instance.dam, self.instance.sire = given["dam_code"], given["sire_code"]
            super()._post_clean()  # type: ignore[misc]  # the stubs leave it out
