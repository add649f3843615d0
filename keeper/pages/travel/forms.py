"""The file of a signed paper, and what its traits and lines are in this book."""

import base64
import binascii
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from keeper.domain.travel.plans import LEAVE, NEW, Arrival, LineAsked, TraitAsked
from keeper.domain.travel.writes import Choice, Choices
from keeper.models import Contact, Line, Species, Trait
from keeper.pages.frame.fields import ChanceInput, day_input, has_come

_ASK = ("", "choose")


class FileForm(forms.Form):
    """A paper's file; sent once, and then carried along by the page."""

    file = forms.FileField(
        required=False,
        label="The signed paper",
        help_text="The file sheet.json that its seller sent, or that its public page gives.",
        widget=forms.FileInput(attrs={"accept": ".json,application/json"}),
    )
    paper = forms.CharField(required=False, widget=forms.HiddenInput)
    species = forms.ModelChoiceField(
        Species.objects.none(), required=False, empty_label="the one it names", label="Species here"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        species: Any = self.fields["species"]
        species.queryset = Species.objects.live()

    def clean(self) -> dict[str, Any]:
        """Put the bytes of the file into `data`, whichever way they came."""
        cleaned: dict[str, Any] = super().clean() or {}
        file = cleaned.get("file")
        try:
            data = (
                file.read() if file else base64.b64decode(cleaned.get("paper", ""), validate=True)
            )
        except binascii.Error as error:
            raise ValidationError("The file was lost on the way. Choose it again.") from error
        if not data:
            raise ValidationError({"file": "Choose the file of a signed paper."})
        return cleaned | {"data": data}


class ArrivalForm(forms.Form):
    """Whose paper it is, and what each trait and line of it is in this book."""

    source = forms.ModelChoiceField(
        Contact.objects.none(),
        required=False,
        label="Whose paper it is",
        empty_label="a new contact",
    )
    name = forms.CharField(max_length=80, required=False, label="Name of the new contact")
    trust = ChanceInput(
        required=False,
        label="How far you take the new contact’s word",
        help_text="0 to 100 %: what the paper says counts so far. It can be changed on their page.",
    )
    compared = forms.BooleanField(
        required=False,
        label="The fingerprint above is the one on the printed paper, or they told it to me",
    )
    code = forms.CharField(max_length=24, required=False, label="Its code here")
    on = forms.DateField(label="When it came", widget=day_input())

    def __init__(self, *args: Any, of: Arrival, **kwargs: Any) -> None:
        initial = {
            "source": of.signers[0] if of.signers else None,
            "name": "" if of.signers else of.paper.issuer,
            "trust": Fraction(1),
            "code": of.paper.content["animal"]["code"],
            "on": timezone.localdate(),
        }
        super().__init__(*args, **kwargs)
        self.initial.update(initial)
        self.of = of
        source: Any = self.fields["source"]
        source.queryset = Contact.objects.live()
        if not of.is_new:
            del self.fields["code"]
        traits = [(one.pk, one.name) for one in _traits(of)]
        for number, trait in enumerate(of.traits):
            self._ask_trait(number, trait, traits)

    def _ask_trait(self, number: int, asked: TraitAsked, traits: list[tuple[int, str]]) -> None:
        new = [] if asked.shown in ("every", "rules") else [(NEW, "new: add it to the register")]
        out = (LEAVE, "leave it out: it is kept in words")
        self.fields[f"trait-{number}"] = forms.ChoiceField(
            label=f"{asked.name} is", choices=[_ASK, *traits, *new, out],
            initial=asked.match.pk if asked.match else "",
        )  # fmt: skip
        lines = [(one.pk, f"{one.trait} {one.title}") for one in _lines(self.of)]
        for place, line in enumerate(asked.lines):
            self.fields[f"line-{number}-{place}"] = forms.ChoiceField(
                label=f"{line.said} is", required=False,
                initial=line.match.pk if line.match else "",
                choices=[_ASK, *lines, (NEW, "new: a line of that trait"), out],
            )  # fmt: skip

    def asked(self) -> Iterator[tuple[Any, list[Any]]]:
        """The fields of each trait: the trait's own, and those of its lines."""
        for number, trait in enumerate(self.of.traits):
            lines = [self[f"line-{number}-{place}"] for place in range(len(trait.lines))]
            yield self[f"trait-{number}"], lines

    def clean_on(self) -> Any:
        """Refuse a day that has not come."""
        return has_come(self.cleaned_data["on"])

    def clean(self) -> dict[str, Any]:
        """Ask for every line of a trait that is not left out, and for whose paper it is."""
        cleaned: dict[str, Any] = super().clean() or {}
        if cleaned.get("source") is None and not cleaned.get("name", "").strip():
            self.add_error("name", "Name whose paper it is, or choose one of your contacts.")
        for number, trait in enumerate(self.of.traits):
            if cleaned.get(f"trait-{number}") in (None, LEAVE):
                continue
            for place, line in enumerate(trait.lines):
                if not cleaned.get(f"line-{number}-{place}"):
                    self.add_error(f"line-{number}-{place}", f"Say what {line.said} is here.")
        return cleaned

    def choices(self) -> Choices:
        """What was chosen."""
        given = self.cleaned_data
        traits: dict[str, Choice] = {}
        lines: dict[tuple[str, str], Choice] = {}
        for number, trait in enumerate(self.of.traits):
            traits[trait.name] = _row(Trait, given[f"trait-{number}"])
            for place, line in enumerate(trait.lines):
                lines[line.key] = self._line(line, given[f"line-{number}-{place}"])
        trust = given["trust"]
        return Choices(
            on=given["on"],
            code=given.get("code", ""),
            source=given["source"],
            name=given["name"],
            trust=Fraction(1) if trust is None else trust,
            key_compared=given["compared"],
            species=self.of.species,
            traits=traits,
            lines=lines,
        )

    def _line(self, asked: LineAsked, chosen: str) -> Choice:
        return _row(Line, chosen) if chosen else LEAVE


def _row(model: type[Trait] | type[Line], chosen: str) -> Choice:
    if chosen in (NEW, LEAVE):
        return chosen
    found = model.objects.live().filter(pk=chosen).first()
    return LEAVE if found is None else found


def _traits(of: Arrival) -> Any:
    return Trait.objects.live().filter(species=of.species, lines__isnull=False).distinct()


def _lines(of: Arrival) -> Any:
    return Line.objects.live().filter(trait__species=of.species).select_related("trait")
