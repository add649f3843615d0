"""The file of a signed paper, and what its traits and lines are in this book."""

from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils import timezone

from keeper.domain.travel.plans import LEAVE, NEW, Arrival, LineAsked, TraitAsked
from keeper.domain.travel.writes import Choice, Choices
from keeper.models import Line, Species, Trait
from keeper.pages.frame.fields import day_input, has_come
from keeper.pages.frame.forms import SignedFile, SignerForm

_ASK = ("", "choose")


class FileForm(SignedFile):
    """A paper's file, and of which species here its animal is."""

    missing = "Choose the file of a signed paper."

    species = forms.ModelChoiceField(
        Species.objects.none(), required=False, empty_label="the one it names", label="Species here"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        file = self.fields["file"]
        file.label = "The signed paper"
        file.help_text = "The file sheet.json that its seller sent, or that its public page gives."
        species: Any = self.fields["species"]
        species.queryset = Species.objects.live()


class ArrivalForm(SignerForm):
    """Whose paper it is, and what each trait and line of it is in this book."""

    code = forms.CharField(max_length=24, required=False, label="Its code here")
    on = forms.DateField(label="When it came", widget=day_input())

    def __init__(self, *args: Any, of: Arrival, **kwargs: Any) -> None:
        super().__init__(*args, signers=of.signers, issuer=of.paper.issuer, **kwargs)
        self.initial.update(code=of.paper.content["animal"]["code"], on=timezone.localdate())
        self.of = of
        whose, trust, compared = (self.fields[name] for name in ("source", "trust", "compared"))
        whose.label = "Whose paper it is"
        trust.help_text = (
            "0 to 100 %: what the paper says counts so far. It can be changed on their page."
        )
        compared.label = (
            "The fingerprint above is the one on the printed paper, or they told it to me"
        )
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
        return Choices(
            on=given["on"],
            code=given.get("code", ""),
            source=given["source"],
            name=given["name"],
            trust=given["trust"],
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
