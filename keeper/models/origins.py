"""What sources say of two lines, and genes that began here."""

from fractions import Fraction

from django.core.exceptions import ValidationError
from django.db import models

from keeper.models.animals import Animal
from keeper.models.chance import ChanceField
from keeper.models.genes import Line
from keeper.models.record import Record, live_unique
from keeper.models.sources import Contact


class PairWord(Record):
    """What a source says of two lines of one look: that they are one gene, or two."""

    one = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="+")
    other = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="+")
    one_gene = models.BooleanField(
        choices=[(True, "one gene (compatible)"), (False, "two genes (not compatible)")]
    )
    source = models.ForeignKey(
        Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="pair_words"
    )
    weight = ChanceField(
        default="1/2",
        help_text="How far you take this word, 0 to 100 %: 0 says nothing, 100 % settles it.",
    )
    on = models.DateField(null=True, blank=True)
    says = models.TextField(blank=True, help_text="In the source's own words.")
    # Of a signed report of crosses; of a word that was told all of these are empty.
    signed = models.TextField(
        blank=True, editable=False, help_text="What was signed, byte for byte, in Base64."
    )
    signature = models.CharField(
        max_length=88, blank=True, editable=False, help_text="Ed25519 over these bytes, in Base64."
    )
    public = models.CharField(
        max_length=44, blank=True, editable=False, help_text="The signer's public key, in Base64."
    )
    fingerprint = models.CharField(
        max_length=32, blank=True, editable=False, help_text="What that key is called."
    )
    digest = models.CharField(
        max_length=64, blank=True, editable=False, help_text="SHA-256 of what was signed, in hex."
    )
    report = models.JSONField(
        null=True,
        blank=True,
        editable=False,
        help_text="What a report says: the chance of one gene as `stated`, from even, and `here` "
        "without crosses that count already; `crosses` as [showed, looked], those `left_out`, the "
        "`identities` of all that it tells of, and the `engine`.",
    )

    event_days = ("on",)

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(one__lt=models.F("other")), name="pair_word_in_order"
            ),
            models.UniqueConstraint(
                fields=["digest"], condition=~models.Q(digest=""), name="pair_word_report_once"
            ),
        ]

    @property
    def is_report(self) -> bool:
        """Whether it is a signed report of crosses."""
        return bool(self.digest)

    @property
    def taken(self) -> Fraction:
        """How far it counts: of a report what its crosses weigh, times the trust in its signer."""
        weight = Fraction(str(self.weight))
        if not self.is_report or self.source is None:
            return weight
        return weight * Fraction(str(self.source.reliability))

    def __str__(self) -> str:
        what = "one gene" if self.one_gene else "two genes"
        if self.is_report:
            return f"the crosses of {self.source} on {self.one} and {self.other}: {what}"
        whose = f"{self.source} says" if self.source else "it is said"
        return f"{whose}: {self.one} and {self.other} are {what}"

    def clean(self) -> None:
        """Refuse lines of different looks."""
        if self.one_id and self.other_id and self.one.trait_id != self.other.trait_id:
            raise ValidationError(
                f"{self.one} and {self.other} are not of one look. Choose two of one."
            )


class Arising(Record):
    """A gene that began with an animal: a new mutation, in place of what its parents gave it.

    For the loci that belong together with the line's own, the animal is then a founder: what it
    has there begins with it, and nothing is followed from its parents.
    """

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="arisings")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="arisings")
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [live_unique("animal", "line", name="arising_once")]

    def __str__(self) -> str:
        return f"{self.line} began with {self.animal}"

    def clean(self) -> None:
        """Refuse a line of another species."""
        if not (self.line_id and self.animal_id):
            return
        if self.line.trait.species_id != self.animal.species_id:
            raise ValidationError(
                {"line": f"{self.line} is no line of {self.animal.species}. Choose one that is."}
            )
