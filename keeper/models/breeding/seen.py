"""What was seen or done with a female before she laid."""

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from keeper.models.animals import Animal, Sex
from keeper.models.record import Record, live_unique


class SeenKind(models.TextChoices):
    """What is noted of a female on a day."""

    INTRODUCED = "introduced", "put together"
    LOCK = "lock", "lock"
    SEPARATED = "separated", "separated"
    FOLLICLES = "follicles", "follicles"
    OVULATION = "ovulation", "ovulation"
    SHED = "shed", "shed before laying"


WITH_MALE = (SeenKind.INTRODUCED, SeenKind.LOCK, SeenKind.SEPARATED)


class BreedingEvent(Record):
    """One thing seen or done with a female on a day, with a male where it takes one.

    It moves no figure: what it says of a sire is said once, by the shares of the clutch's
    candidates, which the laying form proposes from it.
    """

    dam = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="breeding_as_dam")
    sire = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="breeding_as_sire"
    )
    kind = models.CharField(max_length=10, choices=SeenKind.choices)
    on = models.DateField()
    size_mm = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(200)],
        help_text="The largest follicle, in mm, if measured.",
    )
    note = models.CharField(max_length=200, blank=True)

    event_days = ("on",)

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind__in=SeenKind.values), name="breeding_kind_known"
            ),
            models.CheckConstraint(
                condition=models.Q(kind__in=WITH_MALE, sire__isnull=False)
                | (~models.Q(kind__in=WITH_MALE) & models.Q(sire=None)),
                name="breeding_male_where_needed",
                violation_error_message="Name the male where one was with her, else none.",
            ),
            models.CheckConstraint(
                condition=models.Q(size_mm=None) | models.Q(kind=SeenKind.FOLLICLES),
                name="breeding_size_of_follicles",
                violation_error_message="Only follicles are measured. Leave the size empty.",
            ),
            live_unique(
                *("dam", "kind", "on", "sire"),
                name="breeding_with_male_once",
                message="That is noted on this day already. Change that entry instead.",
            ),
            models.UniqueConstraint(
                fields=["dam", "kind", "on"],
                condition=models.Q(withdrawn_at=None, sire=None),
                name="breeding_once",
                violation_error_message=(
                    "That is noted on this day already. Change that entry instead."
                ),
            ),
        ]
        # A female's way is read by her days.
        indexes = [models.Index(fields=["dam", "on"], name="breeding_by_day")]

    def __str__(self) -> str:
        male = f" × {self.sire}" if self.sire else ""
        return f"{self.get_kind_display()} of {self.dam}{male} on {self.on:%-d %B %Y}"

    def clean(self) -> None:
        """Refuse the wrong sex, two of different species, and a day before she hatched."""
        for field, one, right in (("dam", self.dam, Sex.FEMALE), ("sire", self.sire, Sex.MALE)):
            if one is not None and one.sex != right:
                said = f"{one} is not recorded as {right}."
                raise ValidationError({field: f"{said} Correct its sex, or choose another."})
        if self.sire is not None and self.sire.species_id != self.dam.species_id:
            raise ValidationError(
                {"sire": f"{self.sire} is a {self.sire.species}. Choose one of her species."}
            )
        for one in (self.dam, self.sire):
            if one is not None and one.hatched_on and self.on and self.on <= one.hatched_on:
                raise ValidationError({"on": f"{one} had not hatched by then. Correct the day."})
