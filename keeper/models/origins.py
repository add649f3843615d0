"""What sources say of two lines, and genes that began here."""

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

    event_days = ("on",)

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(one__lt=models.F("other")), name="pair_word_in_order"
            )
        ]

    def __str__(self) -> str:
        what = "one gene" if self.one_gene else "two genes"
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
