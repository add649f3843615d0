"""Traits, loci and lines. A line is an allele; compatible lines share a locus."""

from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db import models
from django.db.models.functions import Lower

from keeper.models.chance import ChanceField
from keeper.models.record import Record, live_unique
from keeper.models.species import Species


class Chromosome(models.TextChoices):
    """Where a locus sits."""

    AUTOSOME = "autosome", "on an ordinary chromosome"
    ONE = "one", "on the X (or Z) alone"
    BOTH = "both", "on both sex chromosomes, with crossovers"


class Locus(Record):
    """A place on a chromosome. The lines that sit there are its alleles beside the wild type."""

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="loci")
    name = models.CharField(max_length=60)
    chromosome = models.CharField(
        max_length=8, choices=Chromosome.choices, default=Chromosome.AUTOSOME
    )
    recombination = ChanceField(
        default="0",
        help_text="On both sex chromosomes: how often the gene changes over in the parent with two "
        "different ones, 0 to 50 %.",
    )
    retained = ChanceField(
        default="0",
        help_text="Of young of a dam alone: how often both of her copies stay. By terminal fusion "
        "nothing stays of a gene beside its centromere, and at most about 2 in 3 far from it "
        "(quoted from memory). Not known: 0.",
    )

    class Meta:
        verbose_name_plural = "loci"
        constraints = [
            live_unique(
                "species",
                Lower("name"),
                name="locus_name_once",
                message="This name is in use already. Choose another.",
            ),
            models.CheckConstraint(
                condition=models.Q(chromosome__in=Chromosome.values), name="locus_chromosome_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Refuse what the species' sex chromosomes do not allow."""
        if self.recombination is not None and self.recombination * 2 > 1:
            raise ValidationError({"recombination": "Crossovers happen in at most 50 %. Lower it."})
        none = self.species_id and not self.species.has_sex_chromosomes
        if none and self.chromosome != Chromosome.AUTOSOME:
            raise ValidationError(
                {
                    "chromosome": (
                        f"{self.species} has no sex chromosomes in this book. "
                        "Choose an ordinary one."
                    )
                }
            )


class Interval(Record):
    """Two neighbouring loci of one chromosome and how often they come apart, by parent."""

    left = models.ForeignKey(Locus, on_delete=models.PROTECT, related_name="to_the_right")
    right = models.ForeignKey(Locus, on_delete=models.PROTECT, related_name="to_the_left")
    female = ChanceField(help_text="Recombination in the mother, 0 to 50 %.")
    male = ChanceField(help_text="Recombination in the father, 0 to 50 %.")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(left=models.F("right")), name="interval_two_loci"
            ),
            # A map is a chain: a locus has one neighbour on each side.
            live_unique("left", name="interval_one_to_the_right"),
            live_unique("right", name="interval_one_to_the_left"),
        ]

    def __str__(self) -> str:
        return f"{self.left} – {self.right}"

    def clean(self) -> None:
        """Refuse loci that cannot be neighbours."""
        if self.left_id and self.right_id:
            if self.left.species_id != self.right.species_id:
                raise ValidationError("Linked loci belong to one species. Choose two of one.")
            if {self.left.chromosome, self.right.chromosome} != {Chromosome.AUTOSOME}:
                raise ValidationError(
                    "Only loci on ordinary chromosomes can be linked here. Choose two of these."
                )
        for field in ("female", "male"):
            value = getattr(self, field)
            if value is not None and value * 2 > 1:
                raise ValidationError({field: "Recombination is at most 50 %. Lower it."})


class Shown(models.TextChoices):
    """How many copies of its lines show a trait."""

    RECESSIVE = "recessive", "recessive: two copies at one locus show it"
    DOMINANT = "dominant", "dominant: one copy or two show it"
    SINGLE = "single", "incomplete dominant: one copy shows it, two make the double form"
    EVERY = "every", "the double form of an incomplete dominant: two copies"
    RULES = "rules", "by combinations that you list (allelic complexes, several loci)"


class Trait(Record):
    """Something that can be seen, and which of its lines' copies show it."""

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="traits")
    name = models.CharField(max_length=60)
    shown = models.CharField(max_length=10, choices=Shown.choices, default=Shown.RECESSIVE)
    # A double form has no lines of its own: two copies of its base trait's lines show it.
    base = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="double_forms",
        help_text="For a double form: the trait of which two copies make it.",
    )
    hides = models.ManyToManyField(
        "self",
        symmetrical=False,
        blank=True,
        related_name="hidden_by",
        help_text="Traits that cannot be seen on an animal that shows this one.",
    )
    hides_all = models.BooleanField(default=False, help_text="No other trait can be seen on it.")
    penetrance = ChanceField(
        default="1", help_text="Share of the animals with the genes for it that do show it."
    )
    mistaken = ChanceField(default="0", help_text="How often one without it is taken for one.")
    overlooked = ChanceField(default="0", help_text="How often one that shows it is passed over.")
    looked_for_since = models.DateField(
        null=True,
        blank=True,
        help_text="Whole looks of earlier days say nothing of it. Empty: it was always looked for.",
    )
    told_from = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text="Days after hatching from which it can be told. Empty: at once.",
    )
    told_until = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text="Days after hatching until which it can be told. Empty: it does not fade.",
    )
    harm = models.TextField(blank=True, help_text="What is known to be wrong with such animals.")
    harm_source = models.CharField(max_length=200, blank=True, help_text="Who says so.")
    notes = models.TextField(blank=True)

    _history_m2m_fields = ["hides"]

    class Meta:
        ordering = ["name"]
        constraints = [
            live_unique(
                "species",
                Lower("name"),
                name="trait_name_once",
                message="This name is in use already. Choose another.",
            ),
            models.CheckConstraint(
                condition=models.Q(shown__in=Shown.values), name="trait_shown_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Refuse a double form without its base and a base where there is no double form."""
        if self.shown == Shown.EVERY and not self.base_id:
            raise ValidationError({"base": "Say of which trait this is the double form."})
        if self.shown != Shown.EVERY and self.base_id:
            raise ValidationError({"base": "Only a double form has a base. Leave it empty."})
        if self.base_id and self.base is not None and self.base.species_id != self.species_id:
            raise ValidationError(
                {"base": f"{self.base} belongs to another species. Choose one of this species."}
            )
        if self.told_until is not None and (self.told_from or 0) > self.told_until:
            raise ValidationError(
                {"told_until": "It would fade before it can be told. Correct one of the two."}
            )
        if self.harm and not self.harm_source:
            raise ValidationError({"harm_source": "Name who says so: buyers will ask."})


LINE_NOT_NAMED = "line not named"


class Line(Record):
    """One line of a trait: an allele, with its origin."""

    trait = models.ForeignKey(Trait, on_delete=models.PROTECT, related_name="lines")
    locus = models.ForeignKey(Locus, on_delete=models.PROTECT, related_name="lines")
    code = models.CharField(
        max_length=3,
        validators=[RegexValidator(r"^[A-Z]{2,3}$", "Two or three capital letters.")],
        help_text="Two or three capital letters, shown after the trait.",
    )
    # Empty: the only line of its trait, which nobody has named yet; its code is then made up.
    name = models.CharField(max_length=60, blank=True)
    origin = models.CharField(max_length=200, blank=True)
    background = ChanceField(
        default="0",
        help_text="How common the allele is in animals of which nothing was recorded.",
    )
    share = ChanceField(
        default="1",
        help_text="Of animals said to be this look, line not known: how large this line's part "
        "is, against the parts of the trait's other lines.",
    )
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["trait__name", "code"]
        constraints = [
            live_unique("trait", "code", name="line_code_once_in_trait"),
            live_unique("locus", "code", name="line_code_once_at_locus"),
        ]

    def __str__(self) -> str:
        return f"{self.trait} {self.code}" if self.name else str(self.trait)

    @property
    def label(self) -> str:
        """What stands for it after its trait."""
        return self.code if self.name else LINE_NOT_NAMED

    @property
    def title(self) -> str:
        """Its code and its name."""
        return f"{self.code} {self.name}" if self.name else LINE_NOT_NAMED

    def clean(self) -> None:
        """Refuse a locus of another species, lines for a double form, and a second without name."""
        if self.trait_id and self.trait.shown in {Shown.EVERY, Shown.RULES} and self.trait.base_id:
            raise ValidationError(
                {"trait": "A double form takes the lines of its base. Add the line there."}
            )
        if self.trait_id and self.locus_id and self.trait.species_id != self.locus.species_id:
            raise ValidationError(
                {"locus": f"{self.locus} belongs to another species. Choose one of this species."}
            )
        if not self.name and self.trait_id and not self.is_withdrawn and self.others().exists():
            raise ValidationError({"name": f"{self.trait} has another line: name this one too."})

    def others(self) -> "models.QuerySet[Line]":
        """Return the other lines of its trait that count."""
        found: models.QuerySet[Line] = Line.objects.live().filter(trait_id=self.trait_id)
        return found.exclude(pk=self.pk)


class Dose(models.TextChoices):
    """How many of an animal's copies at a locus are of the lines named."""

    SINGLE = "single", "exactly one copy"
    EVERY = "every", "both copies (the only one where there is one)"
    ANY = "any", "one copy or two"
    ABSENT = "absent", "no copy"


class Showing(Record):
    """One of the combinations that show a trait of the kind `rules`."""

    trait = models.ForeignKey(Trait, on_delete=models.PROTECT, related_name="showings")

    def __str__(self) -> str:
        return " and ".join(str(condition) for condition in self.conditions.all())


class Condition(Record):
    """One part of a combination: so many copies of these lines. All of its parts must hold."""

    showing = models.ForeignKey(Showing, on_delete=models.PROTECT, related_name="conditions")
    lines = models.ManyToManyField(Line, related_name="+")
    dose = models.CharField(max_length=6, choices=Dose.choices)

    _history_m2m_fields = ["lines"]

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(dose__in=Dose.values), name="condition_dose_known"
            )
        ]

    def __str__(self) -> str:
        lines = " or ".join(str(line) for line in self.lines.all())
        return f"{self.get_dose_display()} of {lines}"


class Survival(Record):
    """How many eggs of a genotype come to hatch, relative to the others. None is the wild type."""

    locus = models.ForeignKey(Locus, on_delete=models.PROTECT, related_name="survivals")
    one = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="+")
    other = models.ForeignKey(
        Line, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    survival = ChanceField(help_text="0: none hatch. 1: as many as of any other.")
    source = models.CharField(max_length=200, blank=True)

    def __str__(self) -> str:
        return f"{self.one} / {self.other or 'normal'}"

    def clean(self) -> None:
        """Refuse lines of another locus."""
        lines = (self.one if self.one_id else None, self.other)
        for line in lines:
            if line is not None and line.locus_id != self.locus_id:
                raise ValidationError(f"{line} does not sit at {self.locus}. Choose one that does.")


class OpenPair(Record):
    """Two lines of one look of which nobody is sure whether they are one gene."""

    one = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="+")
    other = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="+")
    prior = ChanceField(default="1/2", help_text="How likely you hold one gene before any cross.")
    notes = models.TextField(blank=True)

    class Meta:
        constraints = [
            live_unique("one", "other", name="open_pair_once"),
            models.CheckConstraint(
                condition=models.Q(one__lt=models.F("other")), name="open_pair_in_order"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.one} and {self.other}"

    def clean(self) -> None:
        """Refuse pairs that cannot be left open: same locus, sex-linked, linked, lethal."""
        if not (self.one_id and self.other_id):
            return
        if self.one.locus_id == self.other.locus_id:
            raise ValidationError(
                "These two lines share a locus already. Part them on their page first."
            )
        for line in (self.one, self.other):
            if line.locus.chromosome != Chromosome.AUTOSOME:
                raise ValidationError(f"{line} is on a sex chromosome; decide such a pair.")
            if line.locus.lines.live().exclude(pk=line.pk).exists():
                raise ValidationError(
                    f"{line} shares its locus with other lines; decide such a pair."
                )
            if line.locus.survivals.live().exists():
                raise ValidationError(f"{line} bears on survival; decide such a pair.")
