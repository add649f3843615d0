"""What is done for an animal and noted of it: meals, weights, sheds, health.

None of it says anything of genes. These rows are of one base class, and nothing of that class
bears on anything (`domain.book.touched`): no computation is started, no figure can move by a meal.
"""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from keeper.models.animals import Animal
from keeper.models.record import Record, live_unique

LIGHTEST, HEAVIEST = Decimal("0.1"), Decimal("999999.9")


class HusbandryRecord(Record):
    """Something that was done for an animal or noted of it on a day; it bears on no figure."""

    # The index of each subclass begins with the animal: one of the column alone would be a second.
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, related_name="%(class)ss", db_index=False
    )
    on = models.DateField()
    note = models.CharField(max_length=200, blank=True)

    event_days = ("on",)

    class Meta:
        abstract = True
        ordering = ["-on", "-pk"]


class Outcome(models.TextChoices):
    """What became of a meal."""

    TAKEN = "taken", "took"
    REFUSED = "refused", "refused"
    OFFERED = "offered", "left with it"
    REGURGITATED = "thrown", "regurgitated"


class Meal(HusbandryRecord):
    """A meal that an animal was offered, and what became of it."""

    prey = models.CharField(max_length=40, help_text="What was offered.")
    grams = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(100_000)],
        help_text="What it weighed, in grams.",
    )
    outcome = models.CharField(
        max_length=8,
        choices=Outcome.choices,
        default=Outcome.TAKEN,
        help_text="Taken, refused, left with it (nobody looked yet) or regurgitated.",
    )

    class Meta(HusbandryRecord.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(outcome__in=Outcome.values), name="meal_outcome_known"
            )
        ]
        indexes = [
            # The last meals of an animal, on its page and for each animal of a round.
            models.Index(fields=["animal", "-on"], name="meal_by_animal"),
            # Today asks who refused of late: a small part of all meals, and the only one it reads.
            models.Index(
                fields=["on", "animal"],
                name="meal_refused",
                condition=Q(outcome="refused", withdrawn_at=None),
            ),
        ]

    def __str__(self) -> str:
        size = f", {self.grams} g" if self.grams else ""
        return f"{self.prey}{size} {self.get_outcome_display()}"


class Weight(HusbandryRecord):
    """What an animal weighed."""

    grams = models.DecimalField(
        max_digits=7,
        decimal_places=1,
        validators=[MinValueValidator(LIGHTEST), MaxValueValidator(HEAVIEST)],
        help_text="In grams.",
    )

    class Meta(HusbandryRecord.Meta):
        indexes = [
            # The last weight of an animal, and its growth.
            models.Index(fields=["animal", "-on"], name="weight_by_animal"),
            # Today compares the weights of the last weeks of all animals, and reads no others.
            models.Index(fields=["on", "animal", "grams"], name="weight_of_late"),
        ]

    def __str__(self) -> str:
        return f"{self.grams:f} g".replace(".0 g", " g")


class ShedKind(models.TextChoices):
    """How a shed came off."""

    WHOLE = "whole", "whole"
    PIECES = "pieces", "in pieces"
    STUCK = "stuck", "some is stuck"


class Shed(HusbandryRecord):
    """A shed, and how it came off."""

    came = models.CharField(
        max_length=6,
        choices=ShedKind.choices,
        default=ShedKind.WHOLE,
        help_text="How it came off: whole, in pieces, or some of it is stuck.",
    )

    class Meta(HusbandryRecord.Meta):
        constraints = [
            models.CheckConstraint(condition=Q(came__in=ShedKind.values), name="shed_came_known")
        ]
        indexes = [models.Index(fields=["animal", "-on"], name="shed_by_animal")]

    def __str__(self) -> str:
        return f"shed, {self.get_came_display()}"


class CleaningKind(models.TextChoices):
    """How far a place was cleaned."""

    SPOT = "spot", "spot clean"
    FULL = "full", "all of it, new bedding"
    WATER = "water", "water changed"


class Cleaning(HusbandryRecord):
    """The cleaning of an animal's place."""

    what = models.CharField(
        max_length=5,
        choices=CleaningKind.choices,
        default=CleaningKind.SPOT,
        help_text="How far it was cleaned.",
    )

    class Meta(HusbandryRecord.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(what__in=CleaningKind.values), name="cleaning_what_known"
            )
        ]
        indexes = [models.Index(fields=["animal", "-on"], name="cleaning_by_animal")]

    def __str__(self) -> str:
        return f"cleaned: {self.get_what_display()}"


class HealthNote(HusbandryRecord):
    """What was noticed of an animal's health, or found after its death. No diagnosis."""

    text = models.TextField(help_text="What was seen.")
    after_death = models.BooleanField(
        default=False, help_text="Whether it is what was found after its death."
    )

    class Meta(HusbandryRecord.Meta):
        indexes = [models.Index(fields=["animal", "-on"], name="health_by_animal")]

    def __str__(self) -> str:
        short = self.text if len(self.text) <= 80 else f"{self.text[:79]}…"
        return f"found after death: {short}" if self.after_death else short


class Treatment(HusbandryRecord):
    """A treatment as a veterinarian ordered it. The program knows no doses."""

    what = models.CharField(max_length=80, help_text="What is given or done.")
    dose = models.CharField(
        max_length=80, blank=True, help_text="As your veterinarian wrote it, word for word."
    )
    ordered_by = models.CharField(max_length=80, blank=True, help_text="Who ordered it.")
    until = models.DateField(null=True, blank=True, help_text="Its last day.")

    class Meta(HusbandryRecord.Meta):
        indexes = [models.Index(fields=["animal", "-on"], name="treatment_by_animal")]

    def __str__(self) -> str:
        return f"treatment: {self.what}" + (f", {self.dose}" if self.dose else "")

    def clean(self) -> None:
        """Refuse a last day before the first."""
        if self.until and self.on and self.until < self.on:
            raise ValidationError({"until": "It would end before it began. Correct one day."})


class Quarantine(HusbandryRecord):
    """An animal that is kept apart from a day until another, and when that ended."""

    until = models.DateField(help_text="Until when it is planned to last.")
    why = models.CharField(max_length=120, blank=True, help_text="Why it is kept apart.")
    ended_on = models.DateField(
        null=True, blank=True, help_text="When it ended; empty: it goes on."
    )

    class Meta(HusbandryRecord.Meta):
        constraints = [
            live_unique(
                "animal",
                "on",
                name="quarantine_once",
                message="Its quarantine from this day is entered already. Change that one.",
            )
        ]
        indexes = [
            models.Index(fields=["animal", "-on"], name="quarantine_by_animal"),
            # Today asks for those that go on: a handful.
            models.Index(
                fields=["until"],
                name="quarantine_open",
                condition=Q(ended_on=None, withdrawn_at=None),
            ),
        ]

    def __str__(self) -> str:
        return f"quarantine from {self.on:%-d %B %Y}"

    def clean(self) -> None:
        """Refuse an end before the beginning."""
        if self.on and self.until and self.until < self.on:
            raise ValidationError({"until": "It would end before it began. Correct one day."})
        if self.on and self.ended_on and self.ended_on < self.on:
            raise ValidationError({"ended_on": "It ended before it began. Correct one day."})
