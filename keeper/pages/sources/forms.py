"""Sources: their papers, and what they state of one trait; and photos."""

from datetime import date
from typing import Any

from django import forms
from django.db.models import Q

from keeper.models import Contact, Line, Paper, Photo, Species, Statement
from keeper.pages.animals.forms import day_input, has_come, reason_field, trait_field

_LINE_HELP = (
    "Where nobody told which, leave it at “line not known”: the word then counts for each line of "
    "the trait by the share that the register gives it."
)


def scan_field(label: str) -> forms.FileField:
    """Return the field for a scan, as `keeper.domain.sources.writes.attach` takes it."""
    return forms.FileField(
        required=False,
        label=label,
        help_text="PDF, JPEG, PNG or WebP, up to 20 MB.",
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/*"}),
    )


class LineChoice(forms.ModelChoiceField):  # type: ignore[type-arg]  # the stubs want a type per use
    """A line, named with its trait; none: line not known."""

    def label_from_instance(self, obj: Any) -> str:
        """Name it."""
        return f"{obj.trait.name} {obj.code} ({obj.name})"


def line_field(species: Species | None, *, keep: int | None = None) -> LineChoice:
    """Return the choice of a line, with "line not known" first."""
    rows = Line.objects.filter(Q(withdrawn_at=None) | Q(pk=keep)).select_related("trait")
    if species is not None:
        rows = rows.filter(trait__species=species)
    return LineChoice(
        rows.order_by("trait__name", "code"),
        required=False,
        empty_label="line not known",
        label="Line",
    )


class TraitOfLine(forms.BaseForm):
    """A form with a trait and a line: a line says its trait as well."""

    def clean(self) -> dict[str, Any]:
        """Take the trait from the line where it was left out."""
        cleaned = super().clean() or {}
        if cleaned.get("line") and not cleaned.get("trait"):
            cleaned["trait"] = cleaned["line"].trait
        if not cleaned.get("trait") and "trait" not in self.errors:
            self.add_error("trait", "Choose a trait, or one of its lines.")
        return cleaned


class StatementForm(TraitOfLine, forms.ModelForm[Statement]):
    """What a source says of one trait. A line says its trait as well."""

    class Meta:
        model = Statement
        fields = ["trait", "line", "claim", "chance", "source", "paper", "on"]
        labels = {
            "claim": "What it is said to be",
            "chance": "How likely",
            "source": "On whose word",
            "on": "When it was said",
        }
        widgets = {
            "on": day_input(),
            "chance": forms.TextInput(attrs={"inputmode": "decimal", "placeholder": "66 %"}),
        }

    def __init__(self, *args: Any, species: Species | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["trait"] = trait_field(species, keep=self.instance.trait_id, required=False)
        self.fields["line"] = line_field(species, keep=self.instance.line_id)
        animal_id = self.instance.animal_id
        if "paper" in self.fields:
            papers: Any = self.fields["paper"]
            of_animal = Paper.objects.live().filter(animal=animal_id)
            papers.queryset = of_animal.select_related("source", "animal")
        if "source" in self.fields:
            self.fields["line"].help_text = _LINE_HELP
            sources: Any = self.fields["source"]
            sources.queryset = Contact.objects.filter(
                Q(withdrawn_at=None) | Q(pk=self.instance.source_id)
            )

    def clean_on(self) -> date | None:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["on"])


class CorrectStatementForm(StatementForm):
    """A statement that was wrong, with the reason of the correction."""

    reason = reason_field()


class PaperForm(forms.ModelForm[Paper]):
    """A document or message of a source."""

    upload = scan_field("Scan or photo")

    class Meta:
        model = Paper
        fields = ["source", "dated", "says"]
        labels = {"source": "Whose paper", "dated": "Dated", "says": "What it says"}
        widgets = {"dated": day_input(), "says": forms.Textarea(attrs={"rows": 4})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sources: Any = self.fields["source"]
        sources.queryset = Contact.objects.filter(
            Q(withdrawn_at=None) | Q(pk=self.instance.source_id)
        )

    def clean_dated(self) -> date | None:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["dated"])


class CorrectPaperForm(PaperForm):
    """A paper that was wrong, with the reason of the correction."""

    reason = reason_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.scan:
            self.fields["upload"].label = "Another scan in place of the one it has"


class PhotoForm(forms.Form):
    """A new photo."""

    picture = forms.FileField(
        label="Photo",
        help_text="JPEG, PNG or WebP. The place it was taken at is not kept.",
        widget=forms.FileInput(attrs={"accept": "image/*"}),
    )
    taken_on = forms.DateField(required=False, label="Taken on", widget=day_input())
    caption = forms.CharField(required=False, max_length=120, label="Caption")


class CaptionForm(forms.ModelForm[Photo]):
    """What a photo shows, and when it was taken."""

    class Meta:
        model = Photo
        fields = ["taken_on", "caption"]
        labels = {"taken_on": "Taken on"}
        widgets = {"taken_on": day_input()}
