"""Lines and where they sit, combinations of them, survival and linkage."""

from fractions import Fraction
from typing import Any

from django import forms

from keeper.domain.register.placing import Place
from keeper.domain.register.queries import lines_of, open_pairs
from keeper.domain.register.writes import Part
from keeper.models import (
    Chromosome,
    Condition,
    Dose,
    Interval,
    Line,
    Locus,
    OpenPair,
    Species,
    Survival,
    Trait,
)
from keeper.pages.frame.fields import ChanceInput, chances
from keeper.pages.frame.forms import BookForm, SeveralChoice


class CodeInput(forms.CharField):
    """A line's code, in capitals however it was typed."""

    def to_python(self, value: Any) -> str:
        """Return the code in capitals."""
        return str(super().to_python(value)).upper()


class LineForm(BookForm[Line]):
    """A line: its code, name and origin."""

    code = CodeInput(
        label="Code",
        max_length=3,
        help_text="Two or three letters; stands after the trait.",
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "spellcheck": "false"}),
    )

    class Meta:
        model = Line
        fields = ["code", "name", "origin", "background", "notes"]
        labels = {"name": "Name of the line", "origin": "Where it comes from"}
        help_texts = {"origin": "Who first bred it or imported it, and when."}
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}

    def __init__(
        self,
        *args: Any,
        first: bool = False,
        alone: bool = False,
        optional: bool = False,
        **kwargs: Any,
    ) -> None:
        """Ask for a line; of a trait's `first` only what one knows when adding the trait.

        The only one, `alone`, may go without code and name.
        """
        super().__init__(*args, **kwargs)
        self.fields["code"].required = self.fields["name"].required = not alone
        if alone:
            self.fields["name"].help_text = "Leave both empty as long as you know of one line only."
        chances(self, background="How common it is")
        self.fields["background"].help_text = (
            "Share of this allele in animals of which nothing was recorded. 0 %: you count "
            "them as normal."
        )
        if first:
            del self.fields["background"]
        if optional:
            # A trait shown by other traits' lines has none of its own.
            self.empty_permitted = True
            self.use_required_attribute = False

    def clean(self) -> dict[str, Any]:
        """Take a code for a name where that is all that was typed."""
        cleaned = super().clean() or {}
        if cleaned.get("code") and not cleaned.get("name"):
            cleaned["name"] = cleaned["code"]
        return cleaned


def chromosomes(species: Species) -> list[tuple[str, str]]:
    """Return where a locus of this species can sit, in its own letters."""
    ordinary = (Chromosome.AUTOSOME.value, "on an ordinary chromosome")
    if not species.has_sex_chromosomes:
        return [ordinary]
    one, both = ("Z", "Z and W") if species.sex_determination == "ZW" else ("X", "X and Y")
    return [
        ordinary,
        (Chromosome.ONE.value, f"on the {one} alone"),
        (Chromosome.BOTH.value, f"on {both}, with crossovers between them"),
    ]


def crossovers(species: Species, *, required: bool = False) -> ChanceInput:
    """How often a gene on both sex chromosomes changes over: one rate, of one parent."""
    who, other = ("females", "males") if species.sex_determination == "ZW" else ("males", "females")
    return ChanceInput(
        label=f"Crossovers in {who}",
        required=required,
        help_text=f"How often the gene changes over to the other sex chromosome in what {who} pass "
        f"on, 0 to 50 %. It is the one rate there is: {other} have two alike, between which a "
        "crossover changes nothing. 5 %: one gamete in twenty.",
    )


OWN, OPEN = "own", "open"


class PlaceForm(forms.Form):
    """Where a line sits: with others, by itself, or nobody is sure."""

    place = forms.ChoiceField(label="Where it sits")
    chromosome = forms.ChoiceField(label="Its own locus is")

    def __init__(
        self, *args: Any, species: Species, trait: Trait | None, line: Line | None, **kwargs: Any
    ) -> None:
        """Offer the loci of a species; `trait` and `line` are None for what is new."""
        pairs = open_pairs([line]) if line else []
        kwargs.setdefault("initial", _initial(line, pairs))
        super().__init__(*args, **kwargs)
        others = [one for one in lines_of(species) if line is None or one.pk != line.pk]
        self.loci = {str(one.locus_id): one.locus for one in others}
        self.mates = [one for one in others if trait is not None and one.trait_id == trait.pk]
        place: Any = self.fields["place"]
        place.choices = _places(others, trait, doubt=bool(self.mates))
        chromosome: Any = self.fields["chromosome"]
        chromosome.choices = chromosomes(species)
        if len(chromosome.choices) == 1:
            chromosome.widget = forms.HiddenInput()
            chromosome.required = False
        else:
            self.fields["recombination"] = crossovers(species)
        priors = {pair.other if pair.one == line else pair.one: pair.prior for pair in pairs}
        for mate in self.mates:
            self.fields[f"pair-{mate.pk}"] = ChanceInput(
                label=f"One gene with {mate}",
                required=False,
                initial=priors.get(mate),
                help_text="How likely, before any cross. Left empty: another gene for certain; "
                "all of them left empty: one half each.",
            )

    def _priors(self, cleaned: dict[str, Any]) -> dict[Line, Fraction]:
        found = {mate: cleaned.get(f"pair-{mate.pk}") for mate in self.mates}
        if all(prior is None for prior in found.values()):
            return dict.fromkeys(found, Fraction(1, 2))
        return {mate: prior for mate, prior in found.items() if prior is not None}

    def chosen(self) -> Place:
        """Return the place that was chosen."""
        cleaned = self.cleaned_data
        if cleaned["place"] not in {OWN, OPEN}:
            return Place(locus=self.loci[cleaned["place"]])
        chromosome = cleaned["chromosome"] or Chromosome.AUTOSOME
        on_both = chromosome == Chromosome.BOTH
        return Place(
            chromosome=chromosome,
            recombination=(on_both and cleaned["recombination"]) or Fraction(0),
            open_with=self._priors(cleaned) if cleaned["place"] == OPEN else {},
        )


def _initial(line: Line | None, pairs: list[OpenPair]) -> dict[str, Any]:
    if line is None:
        return {}
    shared = Line.objects.live().filter(locus=line.locus).exclude(pk=line.pk).exists()
    place = OPEN if pairs else str(line.locus_id) if shared else OWN
    return {
        "place": place,
        "chromosome": line.locus.chromosome,
        "recombination": line.locus.recombination,
    }


def _places(lines: list[Line], trait: Trait | None, *, doubt: bool) -> list[Any]:
    by_locus: dict[int, list[Line]] = {}
    for line in lines:
        by_locus.setdefault(line.locus_id, []).append(line)

    def named(mine: bool) -> list[tuple[str, str]]:
        return [
            (str(locus), "with " + ", ".join(str(line) for line in there))
            for locus, there in by_locus.items()
            if any(trait and line.trait_id == trait.pk for line in there) == mine
        ]

    # For a trait's first line its own locus is the common case; beside others it is a decision.
    choices: list[Any] = [("", "choose")] if doubt else []
    choices.append((OWN, "at a locus of its own: another gene"))
    if doubt:
        choices.append((OPEN, "at a locus of its own, and nobody is sure"))
    for title, mine in (("One gene, same look", True), ("One gene, other looks", False)):
        if found := named(mine):
            choices.append((title, found))
    return choices


class PairForm(BookForm[OpenPair]):
    """How likely two lines are one gene, before any cross."""

    class Meta:
        model = OpenPair
        fields = ["prior", "notes"]
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chances(self, prior="How likely they are one gene")
        self.fields["prior"].required = False
        self.fields["prior"].help_text = "Before any cross. Left empty: one half."

    def clean_prior(self) -> Fraction:
        """Return one half where nothing is typed: nobody is sure."""
        prior = self.cleaned_data["prior"]
        return Fraction(1, 2) if prior is None else prior


class DecideForm(forms.Form):
    """One gene or two."""

    answer = forms.ChoiceField(
        label="They are",
        choices=[("one", "one gene: they share a locus"), ("two", "two genes that look alike")],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="What decided it",
        max_length=200,
        help_text="The cross, the laboratory, or whose word.",
    )


class LocusForm(BookForm[Locus]):
    """A locus: its name and where it sits."""

    class Meta:
        model = Locus
        fields = ["name", "chromosome", "recombination", "retained"]
        labels = {"chromosome": "It sits"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["recombination"] = crossovers(self.instance.species)
        chances(self, retained="Stays in young of a dam alone")
        self.fields["retained"].required = False
        chromosome: Any = self.fields["chromosome"]
        chromosome.choices = chromosomes(self.instance.species)

    def clean(self) -> dict[str, Any]:
        """Let go of crossovers where there are none."""
        cleaned = super().clean() or {}
        if cleaned.get("chromosome") != Chromosome.BOTH or cleaned.get("recombination") is None:
            cleaned["recombination"] = Fraction(0)
        cleaned["retained"] = cleaned.get("retained") or Fraction(0)
        return cleaned


class SurvivalForm(BookForm[Survival]):
    """How many eggs of one genotype come to hatch."""

    class Meta:
        model = Survival
        fields = ["one", "other", "survival", "source"]
        labels = {"one": "One copy", "other": "The other copy", "source": "Who says so"}

    def __init__(self, *args: Any, locus: Locus, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.locus = locus
        chances(self, survival="Survival to hatching")
        for name, empty in (("one", None), ("other", "normal (wild type)")):
            field: Any = self.fields[name]
            field.queryset = lines_of(locus.species).filter(locus=locus)
            field.empty_label = empty
            field.required = name == "one"

    def _post_clean(self) -> None:
        # A record with a field that could not be read cannot be asked whether its fields agree.
        if not self.errors:
            super()._post_clean()  # type: ignore[misc]  # the stubs leave it out


class IntervalForm(BookForm[Interval]):
    """Two neighbouring loci and how often they come apart."""

    class Meta:
        model = Interval
        fields = ["left", "right", "female", "male"]
        labels = {"left": "Locus", "right": "Its neighbour"}

    def __init__(self, *args: Any, species: Species, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chances(self, female="Come apart in mothers", male="Come apart in fathers")
        those = lines_of(species).filter(locus__chromosome=Chromosome.AUTOSOME)
        loci = Locus.objects.live().filter(pk__in=those.values("locus"))
        for name in ("left", "right"):
            field: Any = self.fields[name]
            field.queryset = loci.order_by("name")
            field.empty_label = "choose"
            # A link that exists is between these two; another pair is another link.
            field.disabled = self.instance.pk is not None

    def _post_clean(self) -> None:
        # A record with a field that could not be read cannot be asked whether its fields agree.
        if not self.errors:
            super()._post_clean()  # type: ignore[misc]  # the stubs leave it out


class PartForm(forms.Form):
    """One part of a combination."""

    dose = forms.ChoiceField(label="How many", choices=Dose.choices)
    lines = SeveralChoice(
        Line.objects.none(), label="Of", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, species: Species, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        lines: Any = self.fields["lines"]
        lines.queryset = lines_of(species)


_ROWS = 3


def _of_part(condition: Condition) -> dict[str, Any]:
    return {"dose": condition.dose, "lines": list(condition.lines.all())}


class Combination:
    """The parts of a combination: those that are there and some empty ones.

    `sent` says how many parts the page had that was sent, `rows` how many are wanted now.
    """

    def __init__(
        self,
        data: Any = None,
        *,
        species: Species,
        conditions: list[Condition],
        sent: int = 0,
        rows: int = 0,
    ) -> None:
        count = max(rows, sent or max(len(conditions), _ROWS))
        self.more = count + 1
        self.parts = [
            PartForm(
                data if number < (sent or count) else None,
                prefix=f"part{number}",
                species=species,
                initial=_of_part(conditions[number]) if number < len(conditions) else None,
            )
            for number in range(count)
        ]

    def is_valid(self) -> bool:
        """Whether every part could be read."""
        # All of them, so that each says what is wrong with it.
        valid = [part.is_valid() for part in self.parts]
        return all(valid)

    def chosen(self) -> list[Part]:
        """Return the parts that name a line."""
        return [
            Part(part.cleaned_data["dose"], tuple(part.cleaned_data["lines"]))
            for part in self.parts
            if part.cleaned_data["lines"]
        ]
