"""Forms of what is due: a chore, and what is done with those that are marked."""

from typing import Any

from django import forms

from keeper.domain.today.duties import Duty
from keeper.models import Account, Animal, Chore, Place, Role
from keeper.pages.frame.fields import day_input
from keeper.pages.frame.forms import BookForm
from keeper.pages.frame.picking import animal_of


def people() -> Any:
    """Return those who may do something in the book."""
    return Account.objects.filter(is_active=True).exclude(role=Role.VIEWER).order_by("login_name")


class ChoreForm(BookForm[Chore]):
    """What is to be done, by when and by whom."""

    class Meta:
        model = Chore
        fields = ["what", "on", "every", "animal", "place", "person"]
        labels = {
            "what": "What is to be done",
            "on": "By",
            "every": "Again after days",
            "animal": "For the animal",
            "place": "At the place",
            "person": "Who does it",
        }
        widgets = {
            "on": day_input(),
            "every": forms.NumberInput(attrs={"inputmode": "numeric"}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = people()  # type: ignore[attr-defined]
        self.fields["person"].empty_label = "whoever is there"  # type: ignore[attr-defined]
        place: Any = self.fields["place"]
        place.queryset = Place.objects.live().order_by("name")
        place.empty_label = "no place"
        self.fields["animal"] = forms.CharField(
            required=False, max_length=40, label="For the animal", help_text="Its code."
        )
        if self.instance.animal is not None:
            self.initial["animal"] = self.instance.animal.code

    def clean_animal(self) -> Animal | None:
        """Return the animal of the code that was typed."""
        code = self.cleaned_data["animal"].strip()
        return animal_of(code) if code else None


class DueForm(forms.Form):
    """Which duties are marked, and what is done with them."""

    ACTS = (("done", "Done today"), ("off", "Put off"), ("back", "Due again"), ("give", "Give"))

    duty = forms.MultipleChoiceField(required=False, label="Which", error_messages={
        "invalid_choice": (
            "Something marked is not due any more: somebody did it meanwhile, or it was put right. "
            "Look at the list again."
        )
    })  # fmt: skip
    act = forms.ChoiceField(choices=ACTS, label="What is done with them")
    until = forms.DateField(
        required=False,
        label="Put off until",
        widget=day_input(),
    )
    person = forms.ModelChoiceField(
        queryset=Account.objects.none(),
        required=False,
        label="Who does it",
        empty_label="whoever is there",
    )

    def __init__(self, *args: Any, offered: list[Duty], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        keys: Any = self.fields["duty"]
        keys.choices = [(one.key, one.what) for one in offered]
        person: Any = self.fields["person"]
        person.queryset = people()

    def clean(self) -> dict[str, Any]:
        """Ask for the day where something is put off."""
        data: dict[str, Any] = super().clean() or {}
        if data.get("act") == "off" and "until" not in self.errors and not data.get("until"):
            self.add_error("until", "Say until when. Choose a day after today.")
        return data
