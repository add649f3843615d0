"""Laboratories, and what they found in an animal's genes."""

from django.core.exceptions import ValidationError
from django.db import models

from keeper.models.animals import Animal
from keeper.models.chance import ChanceField
from keeper.models.genes import Line
from keeper.models.record import Record, live_unique
from keeper.models.sources import Paper


class Laboratory(Record):
    """Somebody who tests genes, with how often a result is wrong."""

    name = models.CharField(max_length=80)
    misses = ChanceField(
        default="0", help_text="How often it does not find what is there (false negatives)."
    )
    mistakes = ChanceField(
        default="0", help_text="How often it finds what is not there (false positives)."
    )
    rates_source = models.CharField(
        max_length=200, blank=True, help_text="Where these rates come from."
    )
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "laboratories"
        constraints = [
            live_unique(
                "name",
                name="laboratory_name_once",
                message="There is a laboratory of this name already.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Found(models.TextChoices):
    """What a laboratory reports of one line."""

    NONE = "none", "no copy"
    CARRIES = "carries", "one copy or two"
    ONE = "one", "one copy"
    TWO = "two", "two copies"


class LabTest(Record):
    """One result of a laboratory: how many copies of one line an animal has.

    A result answers one question: are there so many copies? The laboratory's rates are the
    chances that it answers no where it should be yes, and yes where it should be no.
    """

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="lab_tests")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="lab_tests")
    found = models.CharField(max_length=7, choices=Found.choices)
    laboratory = models.ForeignKey(Laboratory, on_delete=models.PROTECT, related_name="results")
    on = models.DateField()
    number = models.CharField(
        max_length=60, blank=True, help_text="The laboratory's number of the sample or report."
    )
    paper = models.ForeignKey(
        Paper, on_delete=models.PROTECT, null=True, blank=True, related_name="lab_tests"
    )
    note = models.CharField(max_length=200, blank=True)

    event_days = ("on",)

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(found__in=Found.values), name="lab_test_found_known"
            )
        ]

    def __str__(self) -> str:
        return f"{self.laboratory} found {self.get_found_display()} of {self.line} in {self.animal}"

    def clean(self) -> None:
        """Refuse a line of another species."""
        if self.line_id and self.animal_id:
            species = self.line.trait.species_id
            if species != self.animal.species_id:
                raise ValidationError(
                    {
                        "line": (
                            f"{self.line} is no line of {self.animal.species}. Choose one that is."
                        )
                    }
                )
