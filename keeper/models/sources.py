"""Where animals came from, and what was said of them on whose word."""

from fractions import Fraction
from math import floor

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.functions import Coalesce

from keeper.discretion import SOMEBODY, sees_people
from keeper.models.chance import ChanceField
from keeper.models.genes import Line, Trait
from keeper.models.record import Record, live_unique


class Contact(Record):
    """Somebody from whom animals came or to whom they went."""

    name = models.CharField(max_length=80)
    reach = models.CharField(max_length=200, blank=True, help_text="How to reach them.")
    reliability = ChanceField(
        default="1", help_text="How far you take their word, 0 to 100 %. Your own judgement."
    )
    notes = models.TextField(blank=True)
    # What the law obliges a seller to keep of a buyer is kept so long, and not erased before.
    kept_until = models.DateField(
        null=True, blank=True, help_text="The law may oblige you to keep it. Empty: it need not be."
    )
    kept_why = models.CharField(
        max_length=200, blank=True, help_text="Which law or duty it is that has it kept."
    )
    erased_on = models.DateField(
        null=True, editable=False, help_text="When the person was erased; a number stands for them."
    )

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name if sees_people() else SOMEBODY

    def clean(self) -> None:
        """Refuse a day until which it is kept without the reason, and a reason without the day."""
        if self.kept_until and not self.kept_why.strip():
            raise ValidationError({"kept_why": "Say why it must be kept until then."})
        if self.kept_why.strip() and not self.kept_until:
            raise ValidationError({"kept_until": "Say until when it must be kept."})


class Paper(Record):
    """A document or a message in which a source says what an animal is."""

    animal = models.ForeignKey("keeper.Animal", on_delete=models.PROTECT, related_name="papers")
    source = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="papers")
    dated = models.DateField(null=True, blank=True)
    says = models.TextField(blank=True, help_text="In the source's own words.")
    scan = models.FileField(upload_to="papers/%Y", blank=True, max_length=200)

    class Meta:
        ordering = ["-dated", "-pk"]

    def __str__(self) -> str:
        return f"paper of {self.source} on {self.animal}"


class Claim(models.TextChoices):
    """What a source says an animal is."""

    VISUAL = "visual", "visual"
    DOUBLE = "double", "two copies"
    CARRIES = "carries", "100 % het (one copy)"
    POSSIBLE = "possible", "possible het"
    CLEAR = "clear", "does not carry it"
    PAPERS = "papers", "as its signed papers say"
    RESULTS = "results", "by what it bred elsewhere"


# What signed papers say is taken from them as it stands, and never typed.
SIGNED_CLAIMS = (Claim.PAPERS, Claim.RESULTS)
TYPED_CLAIMS = [one for one in Claim.choices if one[0] not in SIGNED_CLAIMS]


class Said(Record):
    """What is said of one trait of an animal; no line named: line not known."""

    trait = models.ForeignKey(Trait, on_delete=models.PROTECT, related_name="%(class)ss")
    line = models.ForeignKey(
        Line, on_delete=models.PROTECT, null=True, blank=True, related_name="%(class)ss"
    )
    claim = models.CharField(max_length=8, choices=Claim.choices)
    chance = ChanceField(
        null=True, blank=True, help_text="For a possible het: 66 %, 50 %, or what was said."
    )

    class Meta:
        abstract = True
        ordering = ["trait__name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(claim__in=Claim.values), name="%(class)s_claim_known"
            ),
            models.CheckConstraint(
                condition=models.Q(claim="possible", chance__isnull=False)
                | (~models.Q(claim="possible") & models.Q(chance=None)),
                name="%(class)s_chance_if_possible",
            ),
        ]

    def __str__(self) -> str:
        figure = "" if self.chance is None else f" {_rounded_down(self.chance)}"
        line = self.line.label if self.line else "line not known"
        return f"{self.get_claim_display()}{figure} {self.trait} {line}"

    def clean(self) -> None:
        """Refuse a line of another trait, and a figure where none belongs or one is missing."""
        if self.line is not None and self.line.trait_id != self.trait_id:
            raise ValidationError(
                {"line": f"{self.line} is no line of {self.trait}. Choose one that is."}
            )
        if self.claim == Claim.POSSIBLE and self.chance is None:
            raise ValidationError({"chance": "Say how likely: 66 %, 50 %, 33 % …"})
        if self.claim != Claim.POSSIBLE and self.chance is not None:
            raise ValidationError({"chance": "Only a possible het has a figure. Leave it empty."})
        if self.trait_id and not self.trait.lines.live().exists():
            raise ValidationError(
                {"trait": f"{self.trait} has no lines to carry. Choose the trait it comes from."}
            )


class Statement(Said):
    """What is said of one trait on one animal of the book, on whose word."""

    animal = models.ForeignKey("keeper.Animal", on_delete=models.PROTECT, related_name="statements")
    source = models.ForeignKey(
        Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="statements"
    )
    paper = models.ForeignKey(
        Paper, on_delete=models.PROTECT, null=True, blank=True, related_name="statements"
    )
    on = models.DateField(null=True, blank=True)
    signed = models.ForeignKey(
        "keeper.SignedPaper",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        editable=False,
        related_name="statements",
        help_text="The signed paper that says it, if one does.",
    )
    told = models.JSONField(
        null=True,
        blank=True,
        editable=False,
        help_text="What a signed paper says, in figures: `rows` of [weight, {id of a line: "
        "copies}], and `of`, the ids of the trait's lines. Of an animal that came with it these "
        "are chances; of one that bred elsewhere, how likely what it bred is with these copies.",
    )

    event_days = ("on",)

    class Meta(Said.Meta):
        constraints = [
            # Of one source one word on each trait: a second would contradict or repeat it.
            live_unique(
                "animal",
                "trait",
                Coalesce("source", 0),
                name="statement_one_per_source",
                message="There is a word of this source on this trait already: change that one.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    claim__in=SIGNED_CLAIMS, signed__isnull=False, told__isnull=False
                )
                | (~models.Q(claim__in=SIGNED_CLAIMS) & models.Q(signed=None)),
                name="statement_signed_as_claimed",
            ),
            *Said.Meta.constraints,
        ]

    def __str__(self) -> str:
        if self.signed_id is not None:
            return f"{self.animal}: {self.get_claim_display()}, {self.trait}"
        return f"{self.animal}: {super().__str__()}"


def _rounded_down(chance: Fraction) -> str:
    whole = floor(chance * 100)
    return f"{whole} %" if whole or not chance else "under 1 %"
