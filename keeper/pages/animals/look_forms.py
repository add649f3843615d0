"""Forms of looks: what was seen on an animal, how far one looked, and what one could not tell."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.db.models import Q
from django.utils import timezone

from keeper.domain.animals.looks import Looked
from keeper.models import Look, Observation, Seen, Species, Trait
from keeper.pages.frame.fields import (
    PART,
    WHOLE,
    day_input,
    has_come,
    reason_field,
    scope_field,
    trait_field,
)
from keeper.pages.frame.forms import BookForm, SeveralChoice


class TraitsField(SeveralChoice):
    """Traits to tick; of one that shows later or fades it says when it can be told."""

    widget = forms.CheckboxSelectMultiple

    def label_from_instance(self, obj: Any) -> str:
        """Name it, with the age at which it can be told."""
        return " ".join([str(obj.name), *_ages(obj)])


def _ages(trait: Trait) -> Iterable[str]:
    begins, ends = trait.told_from, trait.told_until
    if begins or ends is not None:
        span = [f"from day {begins}"] if begins else []
        span += [f"until day {ends}"] if ends is not None else []
        yield f"({', '.join(span)})"


class LookForm(forms.Form):
    """A look at an animal."""

    seen = TraitsField(queryset=Trait.objects.none(), required=False, label="Seen on it")
    scope = scope_field()
    unsure = TraitsField(queryset=Trait.objects.none(), required=False, label="Could not be told")
    unseen = TraitsField(
        queryset=Trait.objects.none(),
        required=False,
        label="Looked for and not there",
        help_text="In a whole look these are all that you leave empty.",
    )
    on = forms.DateField(label="When", widget=day_input())
    note = forms.CharField(required=False, max_length=200, label="Note")

    def __init__(
        self, *args: Any, species: Species, keep: Iterable[int] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        rows = Trait.objects.filter(Q(withdrawn_at=None) | Q(pk__in=list(keep)), species=species)
        for name in ("seen", "unsure", "unseen"):
            field: Any = self.fields.get(name)
            if field is not None:
                field.queryset = rows.order_by("name")
        self.initial.setdefault("on", timezone.localdate())

    def clean_on(self) -> date | None:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])

    def clean(self) -> dict[str, Any]:
        """Refuse a trait that is named twice, and a look in part that names nothing."""
        cleaned = super().clean() or {}
        seen, unsure = (set(cleaned.get(name, ())) for name in ("seen", "unsure"))
        unseen = set(cleaned.get("unseen", ()))
        for name, twice in (("unsure", seen & unsure), ("unseen", unseen & (seen | unsure))):
            if twice:
                names = ", ".join(sorted(str(one) for one in twice))
                self.add_error(name, f"{names}: named twice. Say one thing of each.")
        if cleaned.get("scope") == PART and not (seen or unsure or unseen):
            self.add_error(
                "seen",
                "Name what was seen, or what was looked for and not there, or tick a whole look.",
            )
        return cleaned

    @property
    def others_open(self) -> bool:
        """Whether what is seldom named must be in sight."""
        fields = [self[name] for name in ("unsure", "unseen") if name in self.fields]
        return any(one.value() or one.errors for one in fields)

    def looked(self) -> Looked:
        """Return what was seen."""
        given = self.cleaned_data
        return Looked(
            on=given["on"],
            seen=tuple(given["seen"]),
            unseen=tuple(given.get("unseen", ())),
            unsure=tuple(given["unsure"]),
            whole=given.get("scope", WHOLE) == WHOLE,
            note=given["note"],
        )


class CorrectLookForm(LookForm):
    """A whole look that was wrong, with the reason of the correction."""

    reason = reason_field()

    def __init__(self, *args: Any, look: Look, **kwargs: Any) -> None:
        named = list(look.observations.live().select_related("trait"))
        initial = {
            "on": look.on,
            "note": look.note,
            "seen": [one.trait_id for one in named if one.seen == Seen.YES],
            "unsure": [one.trait_id for one in named if one.seen == Seen.UNSURE],
        }
        keep = [one.trait_id for one in named]
        super().__init__(*args, species=look.animal.species, keep=keep, initial=initial, **kwargs)
        # All that it does not name was not there: that is what a whole look is.
        del self.fields["scope"], self.fields["unseen"]


class CorrectObservationForm(BookForm[Observation]):
    """An observation that was wrong, with the reason of the correction."""

    reason = reason_field()

    class Meta:
        model = Observation
        fields = ["trait", "seen", "on", "note"]
        labels = {"on": "When", "seen": "What was seen"}
        widgets = {"on": day_input(), "seen": forms.RadioSelect}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        one = self.instance
        self.fields["trait"] = trait_field(one.animal.species, keep=one.trait_id)
        # The model's blank choice is none: a look told something, or that it cannot be told.
        seen: Any = self.fields["seen"]
        seen.choices = Seen.choices
        if one.look_id is not None:
            # The day is its look's.
            del self.fields["on"]

    def clean_on(self) -> date | None:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])
