"""Laboratories and their rates of error, and the results they report on an animal."""

from datetime import date
from typing import Any

from django import forms
from django.db.models import Q
from django.utils import timezone

from keeper.domain.laboratories.writes import Report
from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Contact, Found, Laboratory, LabTest, Paper, Species
from keeper.pages.frame.fields import (
    ChanceInput,
    chances,
    day_input,
    has_come,
    line_field,
    reason_field,
    scan_field,
)
from keeper.pages.frame.forms import BookForm, leave_people_out

MISSES = "How often it does not find what is there"
MISTAKES = "How often it finds what is not there"
CAUTION = (
    "At 0 % a result counts as certain: whatever contradicts it, another laboratory or your own "
    "young, is then a dispute. No laboratory is never wrong; a sample can be mixed up as well."
)


class LaboratoryForm(BookForm[Laboratory]):
    """A laboratory: how often it errs, and who says so."""

    class Meta:
        model = Laboratory
        fields = ["name", "misses", "mistakes", "rates_source", "notes"]
        labels = {"rates_source": "Where these rates come from"}
        help_texts = {"rates_source": "Its own figures, a study, or your guess: say which."}
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chances(self, misses=MISSES, mistakes=MISTAKES)
        self.fields["misses"].help_text = "Of 100 animals that have the gene, so many are missed."
        self.fields[
            "mistakes"
        ].help_text = "Of 100 animals without it, so many are said to have it."


class LaboratoryChoice(forms.ModelChoiceField):  # type: ignore[type-arg]  # the stubs want a type per use
    """A laboratory, named with its rates."""

    def label_from_instance(self, obj: Any) -> str:
        """Name it."""
        return f"{obj.name} (misses {as_typed(obj.misses)}, mistakes {as_typed(obj.mistakes)})"


class PaperChoice(forms.ModelChoiceField):  # type: ignore[type-arg]  # the stubs want a type per use
    """One of an animal's papers, named by whose it is and its day."""

    def label_from_instance(self, obj: Any) -> str:
        """Name it."""
        day = f", {obj.dated:%Y-%m-%d}" if obj.dated else ""
        says = f": {obj.says[:40]}" if obj.says else ""
        return f"of {obj.source}{day}{says}"


class ResultForm(BookForm[LabTest]):
    """What a laboratory found in an animal, of one line."""

    new_laboratory = forms.CharField(required=False, max_length=80, label="Its name")
    new_misses = ChanceInput(required=False, label=MISSES, help_text="Empty: 0 %.")
    new_mistakes = ChanceInput(required=False, label=MISTAKES, help_text="Empty: 0 %.")
    new_rates_source = forms.CharField(
        required=False, max_length=200, label="Where these rates come from"
    )
    upload = scan_field("Scan or photo of the report")
    given_by = forms.ModelChoiceField(
        Contact.objects.none(),
        required=False,
        label="Who handed the report over",
        empty_label="the laboratory itself",
    )

    class Meta:
        model = LabTest
        fields = ["line", "found", "laboratory", "on", "number", "paper", "note"]
        labels = {
            "found": "What it found",
            "on": "Day of the result",
            "number": "Number of the sample",
            "note": "Note",
        }
        help_texts = {"number": "As it stands on the report."}
        widgets = {"found": forms.RadioSelect, "on": day_input()}

    def __init__(self, *args: Any, species: Species, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.species = species
        self.fields["line"] = _line(species, keep=self.instance.line_id)
        # The model's blank choice is none: a result says something.
        found: Any = self.fields["found"]
        found.choices = Found.choices
        self.fields["laboratory"] = LaboratoryChoice(
            Laboratory.objects.filter(Q(withdrawn_at=None) | Q(pk=self.instance.laboratory_id)),
            required=False,
            label="Laboratory",
            empty_label="a laboratory new to the book",
        )
        papers = Paper.objects.live().filter(animal=self.instance.animal_id)
        self.fields["paper"] = PaperChoice(
            papers.select_related("source"),
            required=False,
            label="Or one of its papers",
            empty_label="none of them",
        )
        given_by: Any = self.fields["given_by"]
        given_by.queryset = Contact.objects.live()
        leave_people_out(self, "given_by", "paper")
        if not self.instance.pk:
            self.initial["on"] = timezone.localdate()

    def clean_on(self) -> date | None:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])

    def clean(self) -> dict[str, Any]:
        """Ask for one laboratory and at most one report."""
        cleaned = super().clean() or {}
        named = str(cleaned.get("new_laboratory", "")).strip()
        if "laboratory" not in self.errors and bool(cleaned.get("laboratory")) == bool(named):
            said = "Choose one, or name one new to the book{}."
            self.add_error("laboratory", said.format(", not both" if named else ""))
        if cleaned.get("upload") and cleaned.get("paper") not in (None, self._paper_before()):
            self.add_error("upload", "Send a scan or choose one of its papers, not both.")
        return cleaned

    def _paper_before(self) -> Any:
        before = self.initial.get("paper")
        return Paper.objects.filter(pk=before).first() if before else None

    def laboratory(self) -> Laboratory | None:
        """Return the laboratory that was named for the first time, unsaved."""
        given = self.cleaned_data
        name = str(given["new_laboratory"]).strip()
        if not name:
            return None
        return Laboratory(
            name=name,
            misses=str(given["new_misses"] or 0),
            mistakes=str(given["new_mistakes"] or 0),
            rates_source=given["new_rates_source"],
        )

    def report(self) -> Report | None:
        """Return the scan that was sent, if one was."""
        scan = self.cleaned_data["upload"]
        return Report(scan, self.cleaned_data.get("given_by")) if scan else None

    @property
    def asks_for_a_new_one(self) -> bool:
        """Whether the fields of a new laboratory are open: in use, or there is none to choose."""
        if self.is_bound and any(self.data.get(name) for name in _NEW):
            return True
        known: Any = self.fields["laboratory"]
        return not known.queryset.exists()


_NEW = ("new_laboratory", "new_misses", "new_mistakes", "new_rates_source")


def _line(species: Species, *, keep: int | None) -> Any:
    field = line_field(species, keep=keep)
    field.required = field.widget.is_required = True
    field.label, field.empty_label = "Line that was looked for", "choose"
    return field


class CorrectResultForm(ResultForm):
    """A result that was entered wrong, with the reason of the correction."""

    reason = reason_field()
