"""Animals: entering and changing them, photos."""

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q

from keeper.domain.clutches.queries import by_code
from keeper.models import Animal, Clutch, Contact, Look, Observation, Photo, Species
from keeper.pages.frame.fields import day_input, reason_field
from keeper.pages.frame.forms import BookForm, leave_people_out
from keeper.pages.frame.picking import AnimalField, offer_swap


class AnimalForm(BookForm[Animal]):
    """An animal. Parents are named by their codes, or by the code of the clutch."""

    dam = AnimalField(
        sex="female", required=False, label="Dam", help_text="Her code, if she is in the book."
    )
    sire = AnimalField(
        sex="male", required=False, label="Sire", help_text="His code, if he is in the book."
    )
    clutch_code = forms.CharField(
        required=False,
        max_length=24,
        label="Clutch",
        help_text="If it hatched here: the clutch names the parents.",
    )
    new_source = forms.CharField(
        required=False, max_length=80, label="Or a source new to the book", help_text="Its name."
    )

    asked_as: ClassVar = {"clutch": "clutch_code"}

    class Meta:
        model = Animal
        fields = [
            *("code", "name", "species", "sex", "sex_told", "hatched_on", "hatched_year"),
            *("status", "status_since", "place", "source", "acquired_on", "dam", "sire", "notes"),
        ]
        labels = {
            "sex_told": "How its sex was told",
            "hatched_on": "Hatched on",
            "hatched_year": "Or hatched in the year",
            "acquired_on": "Came here on",
            "source": "Source",
            "status_since": "Since",
        }
        help_texts = {"hatched_year": ""}
        widgets = {
            "code": forms.TextInput(
                attrs={
                    "autocapitalize": "characters",
                    "spellcheck": "false",
                    "autocomplete": "off",
                    "list": "free-codes",
                }
            ),
            "hatched_on": day_input(),
            "acquired_on": day_input(),
            "status_since": day_input(),
            "hatched_year": forms.NumberInput(attrs={"inputmode": "numeric"}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    field_order = [
        *("code", "name", "species", "sex", "sex_told", "hatched_on", "hatched_year"),
        *("status", "status_since", "place", "source", "new_source", "acquired_on"),
        *("clutch_code", "dam", "sire", "notes"),
    ]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._offer("species", Species.objects.live())
        self._offer("source", Contact.objects.live())
        leave_people_out(self, "source", "new_source")
        self.fields["sex_told"].required = False
        animal = self.instance
        if animal.pk:
            self.initial["dam"], self.initial["sire"] = animal.dam, animal.sire
            self.initial["clutch_code"] = animal.clutch.code if animal.clutch else ""
            if self._has_traits(animal):
                self.fields["species"].disabled = True
                self.fields["species"].help_text = "Fixed: there are records on its traits."

    def _offer(self, name: str, rows: Any) -> None:
        field: Any = self.fields[name]
        current = getattr(self.instance, f"{name}_id", None)
        field.queryset = rows.model.objects.filter(Q(withdrawn_at=None) | Q(pk=current))
        if name == "species" and not current and (only := list(rows[:2])) and len(only) == 1:
            field.initial = only[0].pk

    @staticmethod
    def _has_traits(animal: Animal) -> bool:
        return (
            Observation.objects.filter(animal=animal).exists()
            or Look.objects.filter(animal=animal).exists()
            or animal.statements.exists()
            or animal.lab_tests.exists()
            or animal.clutch_id is not None
            or Clutch.objects.filter(Q(dam=animal) | Q(candidates__sire=animal)).exists()
        )

    def clean_clutch_code(self) -> Clutch | None:
        """Return the clutch of that code."""
        code = str(self.cleaned_data["clutch_code"]).strip()
        if not code:
            return None
        clutch = by_code(code)
        if clutch is None:
            raise forms.ValidationError(
                f"No clutch has the code “{code}”. Check it, or enter the clutch first."
            )
        return clutch

    def clean(self) -> dict[str, Any]:
        """Set the clutch, and refuse two sources, two ways to name parents, another species."""
        cleaned = super().clean() or {}
        offer_swap(self, "dam", "sire")
        clutch = cleaned.get("clutch_code")
        if clutch is not None and cleaned.get("species") not in (None, clutch.species):
            self.add_error(
                "clutch_code",
                f"{clutch} is a clutch of {clutch.species}. "
                "Choose that species, or another clutch.",
            )
        if "clutch_code" in cleaned:
            if clutch is None or clutch.pk != self.instance.clutch_id:
                self.instance.hatch_row = None
            self.instance.clutch = clutch
        if cleaned.get("source") and cleaned.get("new_source"):
            self.add_error("new_source", "Choose a source of the list or name a new one, not both.")
        return cleaned

    def new_contact(self) -> Contact | None:
        """Return the source that was named for the first time, unsaved."""
        name = str(self.cleaned_data.get("new_source", "")).strip()
        return Contact(name=name) if name else None


class ChangeAnimalForm(AnimalForm):
    """An animal that is in the book already, with the reason of the change."""

    reason = reason_field()

    field_order = [*AnimalForm.field_order, "reason"]


class SeveralFiles(forms.ClearableFileInput):
    """Files chosen together."""

    allow_multiple_selected = True


class PhotosField(forms.FileField):
    """Several pictures; what can be said of them is said when they are read."""

    widget = SeveralFiles

    def clean(self, data: Any, initial: Any = None) -> Any:
        """Return the files that were sent, each checked as one is."""
        sent = data if isinstance(data, list | tuple) else [data] if data else []
        if not sent:
            super().clean(None, initial)  # says that one is needed, if one is
        return [super(PhotosField, self).clean(one, initial) for one in sent]


class PhotoForm(forms.Form):
    """New photos: one from the camera, or any number that are there."""

    camera = PhotosField(
        required=False,
        label="Take one now",
        help_text="Opens the camera of a phone.",
        widget=SeveralFiles(attrs={"accept": "image/*", "capture": "environment"}),
    )
    picture = PhotosField(
        required=False,
        label="Photos",
        help_text="One or several, JPEG, PNG or WebP, each below 30 MB. They are turned upright; "
        "the place they were taken at is not kept.",
        widget=SeveralFiles(attrs={"accept": "image/*", "multiple": True}),
    )
    taken_on = forms.DateField(
        required=False,
        label="Taken on",
        help_text="For those whose file does not say.",
        widget=day_input(),
    )
    caption = forms.CharField(required=False, max_length=120, label="Caption")

    def clean(self) -> dict[str, Any]:
        """Refuse a form without a photo."""
        cleaned = super().clean() or {}
        cleaned["photos"] = [*cleaned.get("camera", ()), *cleaned.get("picture", ())]
        if not cleaned["photos"] and not self.errors:
            raise ValidationError("There is no photo. Take one, or choose one or several.")
        return cleaned


class CaptionForm(BookForm[Photo]):
    """What a photo shows, and when it was taken."""

    class Meta:
        model = Photo
        fields = ["taken_on", "caption"]
        labels = {"taken_on": "Taken on"}
        widgets = {"taken_on": day_input()}
