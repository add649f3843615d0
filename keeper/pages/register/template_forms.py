"""The templates for a new trait: each asks only for what its kind needs."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django import forms
from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from keeper.domain.register.loci import Beside
from keeper.domain.register.placing import Place
from keeper.domain.register.queries import has_whole_looks
from keeper.domain.register.templates import NewTrait
from keeper.models import Chromosome, Line, Locus, SexDetermination, Shown, Species, Trait
from keeper.pages.frame.fields import ChanceInput, day_input
from keeper.pages.frame.forms import SeveralChoice
from keeper.pages.register.line_forms import crossovers

HIDDEN, SAME, DOUBLE = "hidden", "same", "double"
_ONE_COPY = {
    HIDDEN: "cannot be seen; two copies show the trait",
    SAME: "shows the trait, and two copies look the same",
    DOUBLE: "shows the trait, and two copies are another look",
}
_ONE_OF_HARM = {DOUBLE: "shows the trait", HIDDEN: "cannot be seen"}
_SHOWN = {HIDDEN: Shown.RECESSIVE, SAME: Shown.DOMINANT, DOUBLE: Shown.SINGLE}


@dataclass(frozen=True)
class Template:
    """One template.

    Attributes:
        one_copy: what one copy may do, if it does not follow from the kind; else the one thing.
        asks: what is asked beside the name, the line and harm.
        must: which of these have to be answered.
    """

    one_copy: tuple[str, ...]
    asks: tuple[str, ...] = ()
    must: tuple[str, ...] = ()


_ANY = (HIDDEN, SAME, DOUBLE)
TEMPLATES = {
    "recessive": Template((HIDDEN,)),
    "double-form": Template((DOUBLE,), ("hides", "hides_all"), ("double",)),
    "dominant": Template((SAME,)),
    "harmful": Template((DOUBLE, HIDDEN), ("two_hatch",), ("two_hatch", "harm", "harm_source")),
    "one-sex": Template(_ANY),
    "both-sexes": Template(_ANY, ("recombination",), ("recombination",)),
    "linked": Template(_ANY, ("beside", "female", "male"), ("beside", "female", "male")),
    "not-always": Template((HIDDEN, SAME), ("penetrance", "mistaken"), ("penetrance",)),
    "hiding": Template(_ANY, ("hides", "hides_all", "who_hides")),
}
_CHROMOSOME = {"one-sex": Chromosome.ONE, "both-sexes": Chromosome.BOTH}
# Kinds that ask what they do not need, were the species without it.
ON_SEX = frozenset(_CHROMOSOME)


class LocusChoice(forms.ModelChoiceField):  # type: ignore[type-arg]  # the stubs want a type per use
    """A locus, named by the lines that sit there."""

    def label_from_instance(self, obj: Any) -> str:
        """Name it."""
        return ", ".join(str(line) for line in obj.lines.all())


def neighbours(species: Species) -> QuerySet[Locus]:
    """Return the loci that another can be linked to, each with its lines."""
    lines = Line.objects.live().select_related("trait").order_by("trait__name", "code")
    there = lines.filter(trait__species=species, locus__chromosome=Chromosome.AUTOSOME)
    found = Locus.objects.live().filter(pk__in=there.order_by().values("locus"))
    return found.order_by("name").prefetch_related(Prefetch("lines", lines))


def names_taken(species: Species) -> set[str]:
    """Return the names of the traits of a species, as they are compared."""
    traits = Trait.objects.live().filter(species=species)
    return {str(name).casefold() for name in traits.values_list("name", flat=True)}


def ask_since(form: forms.Form, species: Species) -> None:
    """Ask from when on a new trait is looked for, where earlier looks may have missed it."""
    if has_whole_looks(species):
        form.fields["looked_for_since"] = forms.DateField(
            label="Looked for since",
            required=False,
            initial=timezone.localdate,
            widget=day_input(),
            help_text="Were animals looked at for it before? Whole looks of days before this one "
            "say nothing of it. Empty: they were all made for it too.",
        )


class TemplateForm(forms.Form):
    """What a template asks about the trait; its line is a form of its own."""

    name = forms.CharField(label="Name of the trait", max_length=60)
    one_copy = forms.ChoiceField(label="One copy", widget=forms.RadioSelect)
    double = forms.CharField(label="Two copies are called", max_length=60, required=False)
    two_hatch = ChanceInput(
        label="Eggs with two copies that hatch",
        initial="0 %",
        help_text="Against eggs without the gene. 0 %: none hatch. 100 %: as many; they are "
        "only unwell.",
    )
    recombination = ChanceInput(label="Crossovers")
    beside = LocusChoice(Locus.objects.none(), label="Close to", empty_label="choose")
    female = ChanceInput(
        label="Come apart in mothers",
        help_text="The share of eggs in which the two come apart. 50 %: not linked at all.",
    )
    male = ChanceInput(label="Come apart in fathers", help_text="The same for sperm.")
    penetrance = ChanceInput(
        label="Animals with the genes for it that show it",
        help_text="70 %: of ten that should show it, seven do. Those that do not carry it on "
        "like the others.",
    )
    mistaken = ChanceInput(
        label="Others that are taken for it",
        required=False,
        help_text="How often one without it is mistaken for one. Left empty: never.",
    )
    hides = SeveralChoice(
        Trait.objects.none(),
        label="It hides",
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    hides_all = forms.BooleanField(label="It hides every other trait", required=False)
    who_hides = forms.ChoiceField(
        label="What hides them",
        choices=[("any", "one copy as well as two"), ("two", "two copies alone")],
        initial="any",
        widget=forms.RadioSelect,
        required=False,
    )
    harm = forms.CharField(
        label="Harm",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What is known to be wrong with such animals.",
    )
    harm_source = forms.CharField(
        label="Source of that", max_length=200, required=False, help_text="Who says so."
    )
    notes = forms.CharField(
        label="Notes on the trait", required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, kind: str, species: Species, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind, self.species = kind, species
        self.template = TEMPLATES[kind]
        asked = {"name", "harm", "harm_source", "notes", *self.template.asks}
        asked |= {"one_copy"} if len(self.template.one_copy) > 1 else set()
        asked |= {"double"} if DOUBLE in self.template.one_copy else set()
        for name in set(self.fields) - asked:
            del self.fields[name]
        ask_since(self, species)
        for name in self.template.must:
            self.fields[name].required = True
        self._word()
        self._offer()

    def _word(self) -> None:
        """Say it in the words of the kind and the species."""
        fields = self.fields
        if self.kind == "double-form":
            fields["name"].label = "One copy is called"
            fields["hides"].label = "On animals with two copies these cannot be seen"
            fields["hides_all"].label = "Animals with two copies hide every other trait"
            fields["hides_all"].help_text = "As white ones do."
        elif self.kind == "harmful":
            fields["harm"].label = "What is wrong with two copies"
            fields["harm"].help_text = "What was seen, and at what age."
            fields["double"].help_text = "Left empty: “Double” before the name of the trait."
        if "one_copy" in fields:
            choices: Any = fields["one_copy"]
            words = _ONE_OF_HARM if self.kind == "harmful" else _ONE_COPY
            choices.choices = [(one, words[one]) for one in self.template.one_copy]
            if self.kind in ON_SEX:
                choices.help_text = _single_copy(self.species, self.kind)
        if "recombination" in fields:
            fields["recombination"] = crossovers(self.species, required=True)

    def _offer(self) -> None:
        if "beside" in self.fields:
            beside: Any = self.fields["beside"]
            beside.queryset = neighbours(self.species)
        if "hides" in self.fields:
            hides: Any = self.fields["hides"]
            hides.queryset = Trait.objects.live().filter(species=self.species).order_by("name")
            if not hides.queryset.exists():
                del self.fields["hides"]

    def clean(self) -> dict[str, Any]:
        """Ask for a name of the double form, a source of harm, and what is hidden."""
        cleaned = super().clean() or {}
        self._refuse_taken_names(cleaned)
        one_copy = self._one_copy(cleaned)
        if one_copy != DOUBLE:
            cleaned["double"] = ""
        elif not cleaned.get("double") and self.kind != "harmful" and "double" not in self.errors:
            self.add_error("double", "Say what animals with two copies are called.")
        if cleaned.get("harm") and not cleaned.get("harm_source"):
            self.add_error("harm_source", "Name who says so: buyers will ask.")
        hides = cleaned.get("hides_all") or cleaned.get("hides")
        if self.kind == "hiding" and not hides and "hides" not in self.errors:
            self.add_error("hides_all", "Say which traits cannot be seen, or all.")
        return cleaned

    def _refuse_taken_names(self, cleaned: dict[str, Any]) -> None:
        taken = names_taken(self.species)
        for field in ("name", "double"):
            name = str(cleaned.get(field) or "").casefold()
            if name in taken:
                self.add_error(field, "This name is in use already. Choose another.")
            taken.add(name or " ")

    def _one_copy(self, cleaned: dict[str, Any]) -> str:
        alone = self.template.one_copy
        return alone[0] if len(alone) == 1 else str(cleaned.get("one_copy") or "")

    def chosen(self, line: Line) -> NewTrait:
        """Return what was asked for, as rows that are not kept yet."""
        cleaned = self.cleaned_data
        one_copy = self._one_copy(cleaned)
        trait = Trait(
            species=self.species,
            name=cleaned["name"],
            shown=_SHOWN[one_copy],
            notes=cleaned["notes"],
        )
        trait.penetrance = cleaned.get("penetrance", Fraction(1))
        trait.mistaken = cleaned.get("mistaken") or Fraction(0)
        trait.looked_for_since = cleaned.get("looked_for_since")
        double = self._double(trait) if one_copy == DOUBLE else None
        # What harms doubled is a word on animals with two copies, not on those with one.
        marked = double if double is not None and self.kind == "harmful" else trait
        marked.harm, marked.harm_source = cleaned["harm"], cleaned["harm_source"]
        two_hatch = cleaned.get("two_hatch")
        by_two = double is not None and self._hides_by_two(cleaned)
        hidden = tuple(cleaned.get("hides") or ())
        for one in ([] if by_two else [trait]) + ([double] if double is not None else []):
            one.hides_all = cleaned.get("hides_all", False)
        return NewTrait(
            trait=trait,
            line=line,
            place=self._place(),
            hides=() if by_two else hidden,
            double=double,
            double_hides=hidden if double is not None else (),
            beside=self._beside(),
            two_hatch=two_hatch if two_hatch != 1 else None,
            two_source=cleaned["harm_source"],
        )

    def _hides_by_two(self, cleaned: dict[str, Any]) -> bool:
        return self.kind == "double-form" or cleaned.get("who_hides") == "two"

    def _double(self, trait: Trait) -> Trait:
        name = self.cleaned_data["double"] or f"Double {trait.name}"[:60]
        return Trait(
            species=self.species,
            name=name,
            shown=Shown.EVERY,
            looked_for_since=trait.looked_for_since,
        )

    def _place(self) -> Place:
        return Place(
            chromosome=_CHROMOSOME.get(self.kind, Chromosome.AUTOSOME),
            recombination=self.cleaned_data.get("recombination", Fraction(0)),
        )

    def _beside(self) -> Beside | None:
        if "beside" not in self.fields:
            return None
        cleaned = self.cleaned_data
        return Beside(cleaned["beside"], cleaned["female"], cleaned["male"])


def _single_copy(species: Species, kind: str) -> str:
    if kind != "one-sex":
        return ""
    who, has = (
        ("A female", "Z") if species.sex_determination == SexDetermination.ZW else ("A male", "X")
    )
    return f"{who} has only one {has}: its one copy shows what two do."
