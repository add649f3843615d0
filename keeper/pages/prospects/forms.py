"""Prospects: what is said of an animal on offer, and its purchase."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import Q
from django.utils import timezone

from keeper.domain.book.writing import Refused
from keeper.domain.sources.writes import attach
from keeper.models import Animal, Contact, Paper, Prospect, ProspectWord, Species
from keeper.pages.frame.fields import day_input, has_come, line_field, reason_field, trait_field
from keeper.pages.frame.forms import BookForm, leave_prices_out
from keeper.pages.frame.refusals import take_error
from keeper.pages.frame.said import Offered, TraitOfLine, TraitRows, only_typed

# Rows offered beyond those that say something.
_MORE = 8


class ProspectForm(BookForm[Prospect]):
    """An animal on offer: whose, where, and what the seller says in plain words."""

    new_source = forms.CharField(
        required=False, max_length=80, label="Or a seller new to the book", help_text="The name."
    )
    reason = reason_field()

    class Meta:
        model = Prospect
        fields = [
            *("name", "species", "sex", "hatched_year"),
            *("source", "where", "seen_on", "asked", "says", "notes"),
        ]
        labels = {
            "name": "What you call it",
            "hatched_year": "Hatched in the year",
            "source": "Who offers it",
            "where": "Where it is offered",
            "seen_on": "Seen on",
            "asked": "Asked for it",
            "says": "What the seller says",
            "notes": "Your own notes",
        }
        help_texts = {
            "name": "To tell it from others on offer.",
            "where": "A table, a message, a page.",
            "asked": "",
            "says": "In the seller’s own words.",
        }
        widgets = {
            "seen_on": day_input(),
            "hatched_year": forms.NumberInput(attrs={"inputmode": "numeric"}),
            "says": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    field_order = [
        *("name", "species", "sex", "hatched_year", "source", "new_source"),
        *("where", "seen_on", "asked", "says", "notes", "reason"),
    ]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        species: Any = self.fields["species"]
        source: Any = self.fields["source"]
        of_this = self.instance
        species.queryset = Species.objects.filter(Q(withdrawn_at=None) | Q(pk=of_this.species_id))
        source.queryset = Contact.objects.filter(Q(withdrawn_at=None) | Q(pk=of_this.source_id))
        leave_prices_out(self, "asked")
        year: Any = self.fields["hatched_year"]
        year.validators += [
            MinValueValidator(1900),
            MaxValueValidator(timezone.localdate().year, "That year is still to come."),
        ]
        if of_this.pk:
            return
        del self.fields["reason"]
        self.initial.setdefault("seen_on", timezone.localdate())
        if len(only := list(species.queryset[:2])) == 1:
            species.initial = only[0].pk

    def clean_seen_on(self) -> date | None:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["seen_on"])

    def clean(self) -> dict[str, Any]:
        """Refuse two sellers."""
        cleaned = super().clean() or {}
        if cleaned.get("source") and cleaned.get("new_source"):
            self.add_error("new_source", "Choose a seller of the list or name a new one, not both.")
        return cleaned

    def new_contact(self) -> Contact | None:
        """Return the seller who was named for the first time, unsaved."""
        name = str(self.cleaned_data.get("new_source", "")).strip()
        return Contact(name=name) if name else None


class WordRow(TraitOfLine, BookForm[ProspectWord]):
    """One row of "what is it said to be"; an empty row says nothing."""

    class Meta:
        model = ProspectWord
        fields = ["trait", "line", "claim", "chance"]
        labels = {"claim": "What it is said to be", "chance": "How likely"}
        widgets = {
            "chance": forms.TextInput(attrs={"inputmode": "decimal", "placeholder": "66 %"}),
        }

    def __init__(self, *args: Any, offered: Offered, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["trait"] = trait_field(None, required=False)
        self.fields["line"] = line_field(None)
        only_typed(self.fields["claim"])
        for name, choices in (("trait", offered.traits), ("line", offered.lines)):
            field: Any = self.fields[name]
            field.choices = choices
        self.fields["chance"].help_text = ""


class _Rows(TraitRows):
    """Rows some of which may be filled in at the start; any of them may be emptied."""

    def initial_form_count(self) -> int:
        """None: what stands in a row already is an offer like that of any empty one."""
        return 0

    @property
    def first(self) -> list[Any]:
        """The rows shown at once: all that say something, and one more."""
        return self.forms[: self._shown]

    @property
    def rest(self) -> list[Any]:
        """The rows folded away."""
        return self.forms[self._shown :]

    @property
    def _shown(self) -> int:
        return max(2, len(self.initial or []) + 1)


class ProspectForms:
    """The parts of the page on which a prospect is entered or changed."""

    def __init__(
        self, data: Any = None, *, prospect: Prospect | None = None, words: list[Any] | None = None
    ) -> None:
        said = [
            {"trait": one.trait_id, "line": one.line_id, "claim": one.claim, "chance": one.chance}
            for one in words or []
        ]
        rows: Any = forms.formset_factory(
            WordRow, formset=_Rows, extra=len(said) + _MORE, max_num=40
        )
        self.prospect = ProspectForm(data, instance=prospect)
        self.said: Any = rows(
            data,
            prefix="said",
            # Beside what was typed, a row that nobody changed would be taken for an empty one.
            initial=said if data is None else None,
            form_kwargs={"offered": Offered.read()},
        )

    def is_valid(self) -> bool:
        """Check every part, so that everything wrong is said at once."""
        if not all([part.is_valid() for part in (self.prospect, self.said)]):  # noqa: C419
            return False
        return bool(self.said.suit(self.prospect.cleaned_data["species"]))

    def words(self) -> list[ProspectWord]:
        """Return what was filled in, unsaved."""
        return [row.instance for row in self.said.filled()]

    def take(self, error: ValidationError | Refused) -> None:
        """Show what the book refused, with everything typed kept."""
        if isinstance(error, Refused):
            self.prospect.add_error(None, str(error))
        else:
            take_error(self.prospect, error)


class BuyForm(BookForm[Animal]):
    """A prospect that has come: what it is called here, and its papers."""

    says = forms.CharField(
        required=False,
        label="What the papers or the seller say",
        help_text="In the seller’s own words; kept as its paper.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    dated = forms.DateField(required=False, label="Dated", widget=day_input())
    upload = forms.FileField(
        required=False,
        label="Scan or photo of the papers",
        help_text="PDF, JPEG, PNG or WebP, up to 20 MB.",
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/*"}),
    )

    class Meta:
        model = Animal
        fields = ["code", "name", "sex", "sex_told", "hatched_year", "acquired_on", "place"]
        labels = {
            "sex_told": "How its sex was told",
            "hatched_year": "Hatched in the year",
            "acquired_on": "Came here on",
        }
        help_texts = {"hatched_year": ""}
        widgets = {
            "code": forms.TextInput(attrs={"autocapitalize": "characters", "spellcheck": "false"}),
            "hatched_year": forms.NumberInput(attrs={"inputmode": "numeric"}),
            "acquired_on": day_input(),
        }

    def __init__(self, *args: Any, prospect: Prospect, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.prospect = prospect
        self.fields["sex_told"].required = False
        self.initial.update(
            sex=prospect.sex,
            hatched_year=prospect.hatched_year,
            acquired_on=timezone.localdate(),
            says=prospect.says,
            dated=prospect.seen_on,
        )

    def clean_dated(self) -> date | None:
        """Refuse a day that is still to come."""
        return has_come(self.cleaned_data["dated"])

    def clean(self) -> dict[str, Any]:
        """Refuse papers of nobody; the day alone is no paper."""
        cleaned = super().clean() or {}
        if self.prospect.source is None and (cleaned.get("says") or cleaned.get("upload")):
            self.add_error(
                None, "Say who offers it first: its papers need somebody who stands for them."
            )
        return cleaned

    def paper(self) -> Paper | None:
        """Return its paper, unsaved, if anything is written or scanned.

        Raises:
            Refused: the scan cannot be kept.
        """
        given = self.cleaned_data
        if not (given["says"] or given["upload"]):
            return None
        paper = Paper(dated=given["dated"], says=given["says"])
        attach(paper, given["upload"])
        return paper


class MessageForm(forms.Form):
    """The message to a seller, as it is going to be sent."""

    text = forms.CharField(
        label="The message",
        help_text="Change what you like, then copy it.",
        widget=forms.Textarea(attrs={"rows": 18, "spellcheck": "true"}),
    )


class LettingGoForm(forms.Form):
    """Why a prospect is given up."""

    reason = forms.CharField(
        max_length=200, label="Why", help_text="It stays in the list of those let go, with this."
    )
