"""What was done with eggs, and seen of them and of their young: by day."""

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from keeper.models.animals import Animal
from keeper.models.clutches import MOST_EGGS, Clutch
from keeper.models.record import Record, live_unique


class Incubation(Record):
    """The box that a clutch's eggs lie in. A clutch that is parted has several."""

    clutch = models.ForeignKey(Clutch, on_delete=models.PROTECT, related_name="incubations")
    since = models.DateField()
    box = models.CharField(max_length=40, help_text="Box or shelf, as you call it.")
    place = models.CharField(max_length=80, blank=True, help_text="Which incubator, which room.")
    temperature = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(15), MaxValueValidator(45)],
        help_text="As it is set, in °C.",
    )
    medium = models.CharField(max_length=60, blank=True, help_text="What the eggs lie on.")
    weight_g = models.DecimalField(
        max_digits=7,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="Of the eggs in this box together, in grams.",
    )

    event_days = ("since",)

    class Meta:
        ordering = ["since", "pk"]
        constraints = [
            live_unique(
                *("clutch", "box"),
                name="incubation_box_once",
                message="This clutch lies in that box already. Change that entry instead.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.box} with eggs of {self.clutch}"

    def clean(self) -> None:
        """Refuse a day before the eggs were laid."""
        if self.clutch.laid_on and self.since and self.since < self.clutch.laid_on:
            raise ValidationError(
                {"since": "The eggs were not laid by then. Correct one of the two days."}
            )


class StepKind(models.TextChoices):
    """What is noted of a clutch, or of its young, on a day."""

    CANDLED = "candled", "candled"
    LOST = "lost", "eggs lost"
    PIP = "pip", "first pip"
    FIRST_SHED = "first-shed", "first shed"
    FIRST_MEAL = "first-meal", "first meal"
    READY = "ready", "ready to go"


OF_YOUNG = (StepKind.FIRST_SHED, StepKind.FIRST_MEAL, StepKind.READY)


class ClutchStep(Record):
    """One thing seen of a clutch on a day: of so many eggs, so many young, or one young.

    Attributes:
        count: eggs that were fertile (candled) or lost, or young without a record of their own.
        animal: the young, where it has a record.
    """

    clutch = models.ForeignKey(Clutch, on_delete=models.PROTECT, related_name="steps")
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="first_steps"
    )
    kind = models.CharField(max_length=10, choices=StepKind.choices)
    on = models.DateField()
    count = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(MOST_EGGS)]
    )
    note = models.CharField(max_length=200, blank=True)

    event_days = ("on",)

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind__in=StepKind.values), name="clutch_step_kind_known"
            ),
            models.CheckConstraint(
                condition=models.Q(animal=None) | models.Q(kind__in=OF_YOUNG, count=None),
                name="clutch_step_young",
                violation_error_message="Of one young: first shed, first meal, ready. Choose one.",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind=StepKind.LOST) | models.Q(count__gte=1),
                name="clutch_step_lost_counts",
                violation_error_message="Say how many eggs were lost.",
            ),
            live_unique(
                *("animal", "kind"),
                name="clutch_step_of_young_once",
                message="That is noted of this one already. Change that entry instead.",
            ),
        ]
        indexes = [models.Index(fields=["clutch", "on"], name="clutch_step_by_day")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.animal or self.clutch} on {self.on:%-d %B %Y}"

    def clean(self) -> None:
        """Refuse days out of order, and a young of another clutch."""
        if self.animal is not None and self.animal.clutch_id != self.clutch_id:
            raise ValidationError(
                {"animal": f"{self.animal} is not of {self.clutch}. Choose one that is."}
            )
        laid, hatched = self.clutch.laid_on, self.clutch.hatched_on
        if self.on and laid and self.on < laid:
            raise ValidationError({"on": "The eggs were not laid by then. Correct the day."})
        if self.on and hatched and self.kind in OF_YOUNG and self.on < hatched:
            raise ValidationError({"on": "None had hatched by then. Correct the day."})
        if self.kind in OF_YOUNG and hatched is None:
            raise ValidationError("Nothing has hatched yet. Enter the hatch first.")
