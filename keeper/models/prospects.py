"""Animals that one thinks of buying: what they are said to be, before they are here."""

from django.db import models

from keeper.models.animals import Animal, Sex
from keeper.models.record import Record, live_unique
from keeper.models.sources import Contact, Said
from keeper.models.species import Species


class Prospect(Record):
    """An animal on offer elsewhere. Nothing of it bears on the book until it is bought.

    One that was let go is withdrawn, with the reason.
    """

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="prospects")
    name = models.CharField(max_length=80, help_text="How you tell it from others on offer.")
    sex = models.CharField(max_length=7, choices=Sex.choices, default=Sex.UNKNOWN)
    source = models.ForeignKey(
        Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="prospects"
    )
    where = models.CharField(
        max_length=200, blank=True, help_text="Where it is offered: a table, a message, a page."
    )
    seen_on = models.DateField(null=True, blank=True)
    asked = models.CharField(max_length=40, blank=True, help_text="What is asked for it.")
    hatched_year = models.PositiveSmallIntegerField(null=True, blank=True)
    says = models.TextField(blank=True, help_text="What the seller says, in the seller's words.")
    notes = models.TextField(blank=True)
    bought = models.OneToOneField(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="was_prospect"
    )

    event_days = ("seen_on",)

    class Meta:
        ordering = ["-seen_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(sex__in=Sex.values), name="prospect_sex_known"
            )
        ]

    def __str__(self) -> str:
        return self.name


class ProspectWord(Said):
    """What is said of one trait of a prospect."""

    prospect = models.ForeignKey(Prospect, on_delete=models.PROTECT, related_name="words")

    class Meta(Said.Meta):
        constraints = [
            live_unique(
                "prospect",
                "trait",
                name="prospect_word_one_per_trait",
                message="There is a word on this trait already: change that one.",
            ),
            *Said.Meta.constraints,
        ]

    def __str__(self) -> str:
        return f"{self.prospect}: {super().__str__()}"
