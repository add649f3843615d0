"""A clutch: who, when, how many eggs; and the filters of their list."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.functional import SimpleLazyObject

from keeper.domain.animals.queries import picks
from keeper.domain.clutches.queries import STATES, by_code, seasons
from keeper.domain.clutches.writes import NOBODY, Candidate
from keeper.models import Animal, CandidateSire, Clutch, read_chance
from keeper.pages.frame.fields import day_input
from keeper.pages.frame.forms import BookForm
from keeper.pages.frame.picking import AnimalField, offer_swap

_NUMBER = {"inputmode": "numeric"}
_LEAST_SIRES = 3


class ShareField(forms.CharField):
    """A candidate's share: 50 %, 0.5 or 1/2; empty: as likely as the others."""

    def to_python(self, value: Any) -> Any:
        """Return the fraction."""
        text = super().to_python(value)
        return read_chance(text) if text else None


class ClutchForm(BookForm[Clutch]):
    """A clutch and its candidate sires."""

    dam = AnimalField(sex="female", required=False, label="Dam")
    unrecorded = forms.BooleanField(
        required=False, label="It could also be a male that is not recorded"
    )
    unrecorded_share = ShareField(required=False, label="His share")
    alone = forms.BooleanField(
        required=False,
        label="It could be hers alone, without a male",
        help_text="Eggs that develop without a sire are known of pythons and colubrids, and rare. "
        "Such young have two copies of one of her alleles.",
    )
    alone_share = ShareField(required=False, label="Share of that")

    class Meta:
        model = Clutch
        fields = [
            *("code", "dam", "laid_on", "eggs", "slugs", "lost", "hatched_on"),
            *("paternity", "test_breeding", "notes"),
        ]
        widgets = {
            "laid_on": day_input(),
            "hatched_on": day_input(),
            "eggs": forms.NumberInput(attrs={**_NUMBER, "min": 0}),
            "slugs": forms.NumberInput(attrs={**_NUMBER, "min": 0}),
            "lost": forms.NumberInput(attrs={**_NUMBER, "min": 0}),
            "notes": forms.Textarea(attrs={"rows": 3}),
            "paternity": forms.RadioSelect,
        }
        labels = {
            "laid_on": "Laid on",
            "hatched_on": "Hatched on",
            "test_breeding": "A test breeding",
            "lost": "Lost in the egg",
            "paternity": "If more than one male was with her",
        }
        help_texts = {"slugs": "Infertile eggs.", "code": ""}

    def __init__(self, *args: Any, live: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance._state.adding:
            for late in ("lost", "laid_on" if live else "hatched_on"):
                del self.fields[late]
        if live or (self.instance.species_id and self.instance.species.bears_live):
            self._call_litter()
        self.fields["slugs"].required = False
        if "lost" in self.fields:
            self.fields["lost"].required = False
        if self.instance.dam is not None:
            self.initial["dam"] = self.instance.dam
        self._add_sires()

    def _call_litter(self) -> None:
        """Say of a litter what there is of it: no eggs, no laying."""
        for name, label in {
            "hatched_on": "Born on", "eggs": "Young in all", "slugs": "Slugs",
            "lost": "Born dead",
        }.items():  # fmt: skip
            if name in self.fields:
                self.fields[name].label = label
        self.fields["eggs"].help_text = "The living, the dead, and slugs."

    def _add_sires(self) -> None:
        """Add a field for every sire there is and some more; the first is the usual one."""
        here = list(
            CandidateSire.objects.live().filter(clutch=self.instance.pk).select_related("sire")
        )
        known = [one for one in here if one.sire is not None]
        single = len(here) == 1
        posted = sum(name.startswith("sire_") for name in self.data)
        proposed = sum(name.startswith("sire_") for name in self.initial)
        least = max(_LEAST_SIRES, len(known) + 1, proposed)
        self.numbers = range(1, max(least, min(posted, 20)) + 1)
        males: Any = SimpleLazyObject(lambda: picks("", sex="male"))
        for number in self.numbers:
            label = "Sire" if number == 1 else "Or"
            field = AnimalField(sex="male", required=False, label=label)
            field.widget.offered = males
            self.fields[f"sire_{number}"] = field
            self.fields[f"share_{number}"] = ShareField(required=False, label="Share")
        for number, one in zip(self.numbers, known, strict=False):
            self.initial[f"sire_{number}"] = one.sire
            self.initial[f"share_{number}"] = "" if single else str(one.share)
        for one in here:
            if one.alone:
                self.initial["alone"], self.initial["alone_share"] = True, str(one.share)
            elif one.sire is None and len(here) > 1:
                self.initial["unrecorded"] = True
                self.initial["unrecorded_share"] = str(one.share)

    @property
    def more_sires(self) -> list[tuple[Any, Any]]:
        """The fields of the second and further candidates."""
        return [(self[f"sire_{one}"], self[f"share_{one}"]) for one in self.numbers[1:]]

    @property
    def has_more_sires(self) -> bool:
        """Whether the part for several males must be open."""
        return bool(
            any(one.value() or one.errors for pair in self.more_sires for one in pair)
            or self["unrecorded"].value()
            or self["alone"].value()
            or self["alone_share"].errors
            or self["share_1"].errors
            or self["unrecorded_share"].errors
        )

    def clean_code(self) -> str:
        """Refuse a code that another clutch has."""
        code = str(self.cleaned_data["code"]).strip()
        found = by_code(code)
        if found is not None and found != self.instance:
            raise ValidationError(f"The code {code} is in use already. Choose another.")
        return code

    def clean_slugs(self) -> int:
        """Return none where nothing is typed."""
        return self.cleaned_data["slugs"] or 0

    def clean_lost(self) -> int:
        """Return none where nothing is typed."""
        return self.cleaned_data["lost"] or 0

    def clean(self) -> dict[str, Any]:
        """Find the species and the candidates."""
        cleaned = super().clean() or {}
        for day in ("laid_on", "hatched_on"):
            if (when := cleaned.get(day)) and when > timezone.localdate():
                self.add_error(day, "That day is still to come. Enter today or an earlier day.")
        offer_swap(self, "dam", "sire_1")
        sires = self._candidates(cleaned)
        cleaned["candidates"] = sires
        parents = [cleaned.get("dam"), *(one.sire for one in sires)]
        self._find_species(cleaned, [one for one in parents if one is not None])
        return cleaned

    def _candidates(self, cleaned: dict[str, Any]) -> list[Candidate]:
        found: list[Candidate] = []
        for number in self.numbers:
            sire, share = cleaned.get(f"sire_{number}"), cleaned.get(f"share_{number}")
            if sire is None:
                continue
            if any(one.sire == sire for one in found):
                self.add_error(f"sire_{number}", f"{sire} is named twice. Keep one.")
            found.append(Candidate(sire, share if share is not None else read_chance("1")))
        if cleaned.get("unrecorded") and (found or cleaned.get("alone")):
            share = cleaned.get("unrecorded_share")
            found.append(Candidate(None, share if share is not None else read_chance("1")))
        if cleaned.get("alone"):
            share = cleaned.get("alone_share")
            share = share if share is not None else read_chance("1")
            found.append(Candidate(None, share, alone=True))
            if cleaned.get("dam") is None and "dam" not in self.errors:
                self.add_error("dam", "Name the dam whose young they are alone.")
        return found

    def _find_species(self, cleaned: dict[str, Any], parents: list[Animal]) -> None:
        if parents:
            self.instance.species = parents[0].species
        elif not (self.instance.species_id or self.errors):
            self.add_error("dam", NOBODY)
            return
        for number in self.numbers:
            sire = cleaned.get(f"sire_{number}")
            if sire is not None and sire.species_id != self.instance.species_id:
                self.add_error(
                    f"sire_{number}",
                    f"{sire} is a {sire.species}. Choose one of its species.",
                )


class ClutchChangeForm(ClutchForm):
    """A clutch corrected."""

    reason = forms.CharField(
        max_length=200, required=False, label="Why", help_text="Kept in the daybook."
    )


class ClutchFilterForm(forms.Form):
    """What the list of clutches shows; all of it lives in the address."""

    q = forms.CharField(required=False, label="Code of the clutch or a parent")
    season = forms.TypedChoiceField(coerce=int, required=False, empty_value=None)
    state = forms.ChoiceField(required=False, choices=[("", "all"), *STATES.items()])
    test = forms.BooleanField(required=False, label="Test breedings only")
    order = forms.ChoiceField(
        required=False,
        choices=[
            ("", "latest first"),
            ("oldest", "oldest first"),
            ("code", "by code"),
            ("dam", "by dam"),
            ("hatched", "most hatched first"),
        ],
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        years: Any = self.fields["season"]
        years.choices = [("", "all"), *((one, str(one)) for one in seasons())]
