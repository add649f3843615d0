"""A new animal in one go: the animal, its papers, what they say, what is seen on it."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from keeper.domain.animals.looks import Looked
from keeper.domain.animals.writes import Arrival
from keeper.domain.book.writing import Refused
from keeper.domain.sources.writes import attach
from keeper.models import Animal, Claim, Observation, Paper, Seen, Statement, Status, Trait
from keeper.pages.animals.forms import AnimalForm
from keeper.pages.frame.fields import PART, WHOLE, day_input, scope_field, trait_field
from keeper.pages.frame.forms import BookForm
from keeper.pages.frame.refusals import take_error
from keeper.pages.frame.said import _ROWS, Offered, StatementForm, TraitRows, _offer


class PapersForm(forms.Form):
    """The papers that come with a new animal; empty: it came without."""

    dated = forms.DateField(required=False, label="Papers dated", widget=day_input())
    says = forms.CharField(
        required=False,
        label="What the papers say",
        help_text="In the source’s own words.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    upload = forms.FileField(
        required=False,
        label="Scan or photo of them",
        help_text="PDF, JPEG, PNG or WebP, up to 20 MB.",
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/*"}),
    )

    def paper(self) -> Paper | None:
        """Return the papers, unsaved, if anything of them was given.

        Raises:
            Refused: the scan cannot be kept.
        """
        given = self.cleaned_data
        if not any(given.values()):
            return None
        paper = Paper(dated=given["dated"], says=given["says"])
        attach(paper, given["upload"])
        return paper


class SaidRow(StatementForm):
    """One row of "what is it said to be"; an empty row says nothing."""

    class Meta(StatementForm.Meta):
        fields = ["trait", "line", "claim", "chance"]

    def __init__(self, *args: Any, offered: Offered, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _offer(self, trait=offered.traits, line=offered.lines)
        self.fields["chance"].help_text = ""


class SeenRow(BookForm[Observation]):
    """One row of "what is seen on it"."""

    class Meta:
        model = Observation
        fields = ["trait", "seen"]
        labels = {"seen": "What was seen"}

    def __init__(self, *args: Any, offered: Offered, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["trait"] = trait_field(None)
        _offer(self, trait=offered.traits, seen=list(Seen.choices))
        self.fields["seen"].initial = Seen.YES


class ScopeForm(forms.Form):
    """Whether what is seen on a new animal was a whole look."""

    scope = scope_field()
    visual_seen = forms.BooleanField(
        required=False, initial=True, label="What is said to be visual is seen on it as well"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["scope"].initial = PART


SaidRows: Any = forms.formset_factory(SaidRow, formset=TraitRows, extra=_ROWS, max_num=40)
SeenRows: Any = forms.formset_factory(SeenRow, formset=TraitRows, extra=_ROWS, max_num=40)


class ArrivalForms:
    """The parts of the page on which an animal is entered."""

    def __init__(self, data: Any = None, files: Any = None, initial: Any = None) -> None:
        offered = Offered.read()
        kwargs = {"form_kwargs": {"offered": offered}}
        self.animal = AnimalForm(data, initial=initial)
        self.papers = PapersForm(data, files, prefix="papers")
        self.said = SaidRows(data, prefix="said", **kwargs)
        self.seen = SeenRows(data, prefix="seen", **kwargs)
        self.scope = ScopeForm(data, prefix="look")

    def is_valid(self) -> bool:
        """Check every part, so that everything wrong is said at once."""
        parts = (self.animal, self.papers, self.said, self.seen, self.scope)
        if not all([part.is_valid() for part in parts]):  # noqa: C419  # all of them, always
            return False
        species = self.animal.cleaned_data["species"]
        if not all([self.said.suit(species), self.seen.suit(species)]):
            return False
        has_source = self.animal.cleaned_data.get("source") or self.animal.new_contact()
        if any(self.papers.cleaned_data.values()) and not has_source:
            where = "source" if "source" in self.animal.fields else None
            self.animal.add_error(where, "Say whose papers these are.")
            return False
        return True

    def arrival(self) -> Arrival:
        """Return what was entered, unsaved.

        Raises:
            Refused: the scan of the papers cannot be kept.
        """
        animal: Animal = self.animal.instance
        seen_on = animal.acquired_on or timezone.localdate()
        statements: list[Statement] = [row.instance for row in self.said.filled()]
        for statement in statements:
            statement.on = animal.acquired_on
        return Arrival(
            animal=animal,
            contact=self.animal.new_contact(),
            paper=self.papers.paper(),
            statements=statements,
            looked=self._looked(seen_on),
        )

    def _looked(self, on: date) -> Looked | None:
        named = [(row.instance.trait, row.instance.seen) for row in self.seen.filled()]
        named += [(trait, Seen.YES) for trait in self._visual() - {trait for trait, _ in named}]
        scope = self.scope.cleaned_data["scope"]
        if not named and scope != WHOLE:
            return None
        seen, unseen, unsure = (
            tuple(trait for trait, told in named if told == one)
            for one in (Seen.YES, Seen.NO, Seen.UNSURE)
        )
        return Looked(on, seen, unseen, unsure, whole=scope == WHOLE)

    def _visual(self) -> set[Trait]:
        """Traits that its source calls visual and the keeper sees too, said once."""
        if not self.scope.cleaned_data["visual_seen"]:
            return set()
        said = [row.instance for row in self.said.filled()]
        return {one.trait for one in said if one.claim == Claim.VISUAL}

    # What is folded away is open where something stands in it, or is wrong there.

    @property
    def seen_is_used(self) -> bool:
        """Whether somebody said what is seen, or how far they looked."""
        filled = any(row.has_changed() for row in self.seen)
        return self.seen.is_bound and (filled or self.scope["scope"].value() == WHOLE)

    @property
    def papers_are_used(self) -> bool:
        """Whether something was said of papers."""
        return self.papers.has_changed() or bool(self.papers.errors)

    @property
    def parents_are_used(self) -> bool:
        """Whether a parent or a clutch is named."""
        return self._used("clutch_code", "dam", "sire")

    @property
    def more_is_used(self) -> bool:
        """Whether something stands in the fields that a founder rarely needs at once."""
        form = self.animal
        moved = form.is_bound and form["status"].value() != Status.KEPT
        return moved or self._used("name", "status_since", "place", "notes")

    def _used(self, *names: str) -> bool:
        return any(self.animal[one].value() or self.animal[one].errors for one in names)

    def take(self, error: ValidationError | Refused) -> None:
        """Show what the book refused, with everything typed kept."""
        take_error(self.animal, error)
