"""What is asked of a step: the day, and what belongs to it. The button says which step."""

from typing import Any

from django import forms
from django.utils import timezone

from keeper.models import (
    Animal,
    BreedingEvent,
    Clutch,
    ClutchStep,
    Incubation,
    SeenKind,
    StepKind,
)
from keeper.models.breeding.clutch_steps import OF_YOUNG
from keeper.models.breeding.seen import WITH_MALE
from keeper.pages.frame.fields import day_input, has_come, reason_field
from keeper.pages.frame.forms import BookForm, SeveralChoice
from keeper.pages.frame.picking import AnimalField

_DECIMAL = {"inputmode": "decimal", "step": "0.1"}
_WHICH = "Say which step it was: choose its button."


def _kind(typed: str, kinds: Any) -> str:
    """Return the step that a button names; empty: none."""
    return typed if typed in {str(one.value) for one in kinds} else ""


class EventForm(BookForm[BreedingEvent]):
    """Something seen or done with a female. `kind` comes with the button that sends it."""

    sire = AnimalField(sex="male", required=False, label="Male")

    class Meta:
        model = BreedingEvent
        fields = ["on", "size_mm", "note"]
        labels = {"on": "Day", "size_mm": "Follicles (mm)", "note": "Note"}
        widgets = {"on": day_input(), "size_mm": forms.NumberInput(attrs=_DECIMAL)}
        help_texts = {"size_mm": "The largest, if measured."}

    field_order = ["on", "sire", "size_mm", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.sire is not None:
            self.initial["sire"] = self.instance.sire
        if self.instance.pk and self.instance.kind not in WITH_MALE:
            del self.fields["sire"]
        if self.instance.pk and self.instance.kind != SeenKind.FOLLICLES:
            del self.fields["size_mm"]

    def clean_on(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])

    def _post_clean(self) -> None:
        kind = self.instance.kind or _kind(self.data.get("kind", ""), SeenKind)
        if not kind:
            self.add_error(None, _WHICH)
            return
        self.instance.kind = kind
        sire = self.cleaned_data.get("sire")
        if kind in WITH_MALE and sire is None:
            if "sire" not in self.errors:
                self.add_error("sire", "Name the male who was with her.")
            return
        self.instance.sire = sire if kind in WITH_MALE else None
        if not self.errors:
            super()._post_clean()  # type: ignore[misc]  # the stubs leave it out


class EventChangeForm(EventForm):
    """The same, corrected."""

    reason = reason_field()


class StepForm(BookForm[ClutchStep]):
    """Something seen of the eggs. `kind` comes with the button."""

    fertile = forms.IntegerField(
        min_value=0, max_value=1000, required=False, label="Fertile",
        help_text="Of all eggs, when candled.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    lost = forms.IntegerField(
        min_value=0, max_value=1000, required=False, label="Lost",
        help_text="On this day: gone bad since the last.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip

    class Meta:
        model = ClutchStep
        fields = ["on", "note"]
        labels = {"on": "Day", "note": "Note"}
        widgets = {"on": day_input()}

    field_order = ["on", "fertile", "lost", "note"]

    def clean_on(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])

    def _post_clean(self) -> None:
        kind = _kind(self.data.get("kind", ""), set(StepKind) - set(OF_YOUNG))
        if not kind:
            self.add_error(None, _WHICH)
            return
        self.instance.kind = kind
        lost, fertile = self.cleaned_data.get("lost"), self.cleaned_data.get("fertile")
        if kind == StepKind.LOST:
            if not lost and "lost" not in self.errors:
                self.add_error("lost", "Say how many eggs were lost.")
            self.instance.count = lost
        elif kind == StepKind.CANDLED:
            self.instance.count = fertile
        if not self.errors:
            super()._post_clean()  # type: ignore[misc]  # the stubs leave it out

    @property
    def lost_beside(self) -> int:
        """How many were lost at a candling or a pip, which is a row of its own."""
        return 0 if self.instance.kind == StepKind.LOST else self.cleaned_data["lost"] or 0


class YoungForm(BookForm[ClutchStep]):
    """A first shed or meal, or leaving, of many young at once. `kind` comes with the button."""

    young = SeveralChoice(
        Animal.objects.none(), required=False, label="Of", widget=forms.CheckboxSelectMultiple
    )

    class Meta:
        model = ClutchStep
        fields = ["on", "count", "note"]
        labels = {"on": "Day", "count": "Without a record", "note": "Note"}
        widgets = {
            "on": day_input(),
            "count": forms.NumberInput(attrs={"inputmode": "numeric", "min": 0}),
        }
        help_texts = {"count": "How many of those that have none."}

    field_order = ["on", "young", "count", "note"]

    def __init__(self, *args: Any, clutch: Clutch, without: int, **kwargs: Any) -> None:
        # The form of the eggs stands on the same page.
        kwargs.setdefault("auto_id", "young_%s")
        super().__init__(*args, **kwargs)
        self.instance.clutch = clutch
        field: Any = self.fields["young"]
        field.queryset = Animal.objects.live().filter(clutch=clutch.pk).order_by("code")
        if not without:
            del self.fields["count"]

    def clean_on(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])

    def clean_count(self) -> Any:
        """Take none for nothing."""
        return self.cleaned_data["count"] or None

    def _post_clean(self) -> None:
        kind = _kind(self.data.get("kind", ""), OF_YOUNG)
        if not kind:
            self.add_error(None, _WHICH)
            return
        self.instance.kind = kind
        if not self.errors:
            super()._post_clean()  # type: ignore[misc]  # the stubs leave it out


class StepChangeForm(BookForm[ClutchStep]):
    """A step corrected."""

    reason = reason_field()

    class Meta:
        model = ClutchStep
        fields = ["on", "count", "note"]
        labels = {"on": "Day", "count": "How many", "note": "Note"}
        widgets = {
            "on": day_input(),
            "count": forms.NumberInput(attrs={"inputmode": "numeric", "min": 0}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.animal_id is not None:
            del self.fields["count"]

    def clean_on(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])


class BoxForm(BookForm[Incubation]):
    """Where eggs lie."""

    class Meta:
        model = Incubation
        fields = ["since", "box", "place", "temperature", "medium", "weight_g"]
        labels = {
            "since": "Since",
            "box": "Box or shelf",
            "place": "Place",
            "temperature": "Temperature (°C)",
            "medium": "Medium",
            "weight_g": "Weight of these eggs (g)",
        }
        widgets = {
            "since": day_input(),
            "temperature": forms.NumberInput(attrs=_DECIMAL),
            "weight_g": forms.NumberInput(attrs=_DECIMAL),
        }

    def clean_since(self) -> Any:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["since"])


class BoxChangeForm(BoxForm):
    """The same, corrected."""

    reason = reason_field()


def today() -> Any:
    """Return the day that is filled in."""
    return timezone.localdate()
