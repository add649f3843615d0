"""How often things go wrong, as the keeper holds it to be: what explanations are weighed by."""

from django.core.exceptions import ValidationError
from django.db import models

from keeper.models.chance import ChanceField
from keeper.models.record import Record, live_unique


class Mishap(models.TextChoices):
    """Kinds of things that may have gone wrong, or came about otherwise than was thought."""

    LOOK = "look", "a misread look"
    RESULT = "result", "a wrong laboratory result"
    WORD = "word", "a source's word that is wrong"
    UNDECLARED = "undeclared", "an undeclared carrier"
    STORED = "stored", "stored sperm of an earlier mate"
    OTHER_SIRE = "sire", "another sire"
    SECOND_SIRE = "second-sire", "a second sire in one clutch"
    ALONE = "alone", "a dam alone"
    WRONG_DAM = "dam", "another dam"
    MIXED_UP = "mixed-up", "a mixed-up animal"
    PEDIGREE = "pedigree", "wrong parents in its papers"
    ONE_GENE = "one-gene", "two lines that are one gene after all"
    TWO_GENES = "two-genes", "lines of one gene that are two"
    CROSSOVER = "crossover", "a crossover that the register rules out"
    MUTATION = "mutation", "a new mutation"
    BEGINNING = "beginning", "a gene that began elsewhere"


class BaseRate(Record):
    """How often one kind of thing happens in this book, where that is not the common figure."""

    mishap = models.CharField(max_length=12, choices=Mishap.choices)
    chance = ChanceField(help_text="Such as 1/200 or 0.5 %.")
    ground = models.CharField(
        max_length=200, help_text="How you know: your own count, a study, or your guess."
    )

    class Meta:
        ordering = ["mishap"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(mishap__in=Mishap.values), name="base_rate_mishap_known"
            ),
            live_unique(
                "mishap",
                name="base_rate_mishap_once",
                message="There is a rate for this already: change that one.",
            ),
        ]

    def __str__(self) -> str:
        return f"the rate of {self.get_mishap_display()}"

    def clean(self) -> None:
        """Refuse what would rule out a kind of thing, or make it certain: no odds follow then."""
        chance = type(self)._meta.get_field("chance").to_python(self.chance)
        if chance is not None and not 0 < chance < 1:
            raise ValidationError({"chance": "Write a chance between 0 and 100 % that is neither."})
