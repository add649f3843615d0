"""Forms of places: one place, and moving animals."""

from typing import Any

from django import forms

from keeper.domain.places.writes import MOST_PARTS
from keeper.models import Animal, Place
from keeper.pages.frame.fields import reason_field
from keeper.pages.frame.forms import BookForm, SeveralChoice


class PlaceForm(BookForm[Place]):
    """A place; a new one with so many numbered parts in it."""

    parts = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=MOST_PARTS,
        label="How many tubs are in it",
        help_text="They are numbered, and hold one animal each. Empty: none, or add them later.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    class Meta:
        model = Place
        fields = ["name", "kind", "within", "holds", "position", "notes"]
        labels = {"kind": "What it is", "within": "Within", "holds": "Holds", "position": "Turn"}
        widgets = {
            "notes": forms.Textarea(attrs={"rows": 2}),
            "holds": forms.NumberInput(attrs={"inputmode": "numeric"}),
            "position": forms.NumberInput(attrs={"inputmode": "numeric"}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        within: Any = self.fields["within"]
        within.queryset = Place.objects.live().exclude(pk=self.instance.pk).order_by("name")
        within.empty_label = "nothing: it stands by itself"
        if self.instance.pk is not None:
            del self.fields["parts"]
            self.fields["reason"] = reason_field()


class MoveForm(forms.Form):
    """Who moves, and where to: a place of the tree, or one that is only written."""

    animals = SeveralChoice(
        Animal.objects.none(), label="Who moves", widget=forms.CheckboxSelectMultiple
    )
    to = forms.CharField(
        required=False, max_length=40, label="To", help_text="Empty: no place is known."
    )

    def __init__(self, *args: Any, offered: Any, names: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        animals: Any = self.fields["animals"]
        animals.queryset = offered
        # The browser offers the places that have room; anything else can be typed.
        self.names = names
        self.fields["to"].widget.attrs.update(list="free-places", autocomplete="off")
