"""Looks of several genes that have a name of their own."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.functions import Lower

from keeper.models.genes import Line, Trait
from keeper.models.record import Record, live_unique
from keeper.models.species import Species


class NamedLook(Record):
    """A look that several traits make together, with what it is called."""

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="named_looks")
    name = models.CharField(max_length=60)
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        verbose_name = "named look"
        constraints = [
            live_unique(
                "species",
                Lower("name"),
                name="named_look_name_once",
                message="This name is in use already. Choose another.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class LookPart(Record):
    """One of the traits that a named look is made of; with lines named, by copies of these alone.

    All parts must be seen on one animal.
    """

    look = models.ForeignKey(NamedLook, on_delete=models.PROTECT, related_name="parts")
    trait = models.ForeignKey(Trait, on_delete=models.PROTECT, related_name="+")
    lines = models.ManyToManyField(Line, blank=True, related_name="+")

    _history_m2m_fields = ["lines"]

    class Meta:
        ordering = ["pk"]
        verbose_name = "part of a look"
        constraints = [live_unique("look", "trait", name="look_part_once")]

    def __str__(self) -> str:
        return f"{self.trait} in {self.look}"

    def clean(self) -> None:
        """Refuse a trait of another species."""
        if self.trait_id and self.trait.species_id != self.look.species_id:
            raise ValidationError(
                {"trait": f"{self.trait} is no trait of this species. Choose one that is."}
            )
