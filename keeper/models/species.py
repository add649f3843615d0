"""Species: how sex is determined, when animals mature, what a clutch is like, what to beware."""

from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower

from keeper.models.chance import ChanceField
from keeper.models.record import Record, live_unique

# Columns of days between two steps, each with `_least` and `_most`.
WAY_STEPS = ("ovulation_shed", "shed_laying", "ovulation_birth", "hatch_shed", "shed_meal")


class SexDetermination(models.TextChoices):
    """How sex is decided: which sex has two different sex chromosomes, if any."""

    XY = "XY", "XY: males have two different sex chromosomes"
    ZW = "ZW", "ZW: females have two different sex chromosomes"
    TEMPERATURE = "TSD", "by temperature: how warm the eggs lie decides, not chromosomes"
    NONE = "none", "not known, or otherwise: no sex chromosomes in this book"


class Bearing(models.TextChoices):
    """How a species brings its young into the world."""

    EGGS = "eggs", "lays eggs"
    LIVE = "live", "bears live young: litters, no eggs and no incubation"


def _days() -> Any:
    """Days between two steps of a clutch; empty: not stated."""
    return models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(1000)]
    )


class Species(Record):
    """A species kept in the book. Durations are in days, ages in months."""

    name = models.CharField(max_length=60)
    scientific_name = models.CharField(max_length=80, blank=True)
    sex_determination = models.CharField(max_length=4, choices=SexDetermination.choices)
    female_mature_months = models.PositiveSmallIntegerField(default=36)
    male_mature_months = models.PositiveSmallIntegerField(default=18)
    eggs_usual = models.PositiveSmallIntegerField(
        default=6, validators=[MinValueValidator(1), MaxValueValidator(200)]
    )
    hatch_rate = ChanceField(default="4/5", help_text="Share of eggs that hatch.")
    incubation_days = models.PositiveSmallIntegerField(default=60)
    # What the book takes as it comes; beyond it asks. Empty: what follows from the usual figure.
    eggs_most = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(1000)]
    )
    incubation_least = models.PositiveSmallIntegerField(null=True, blank=True)
    incubation_most = models.PositiveSmallIntegerField(null=True, blank=True)
    alone_known = models.BooleanField(
        "young of a dam alone are known",
        default=False,
        help_text="As of some pythons, boas and colubrids. Then a clutch without a sire is among "
        "what may explain a dispute.",
    )
    figures_source = models.CharField(max_length=200, blank=True)
    incubation_note = models.CharField(
        max_length=120, blank=True, help_text="Temperature and what you keep to."
    )
    # The way of a clutch: least and most days from one step to the next; and which matings count.
    bearing = models.CharField(max_length=4, choices=Bearing.choices, default=Bearing.EGGS)
    ovulation_shed_least = _days()
    ovulation_shed_most = _days()
    shed_laying_least = _days()
    shed_laying_most = _days()
    ovulation_birth_least = _days()
    ovulation_birth_most = _days()
    hatch_shed_least = _days()
    hatch_shed_most = _days()
    shed_meal_least = _days()
    shed_meal_most = _days()
    fertile_days = models.PositiveSmallIntegerField(
        default=180, validators=[MinValueValidator(1), MaxValueValidator(1000)]
    )
    lock_weight = models.PositiveSmallIntegerField(
        default=4, validators=[MinValueValidator(1), MaxValueValidator(100)]
    )
    stores_sperm = models.BooleanField(default=True)
    way_source = models.CharField(max_length=200, blank=True)
    # When the book points out a weight or refusals. Common practice, no source: the keeper's own.
    loss_percent = models.PositiveSmallIntegerField(
        default=10,
        validators=[MinValueValidator(1), MaxValueValidator(90)],
        help_text="A loss of weight of so many percent is pointed out.",
    )
    loss_laid_percent = models.PositiveSmallIntegerField(
        default=35,
        validators=[MinValueValidator(1), MaxValueValidator(90)],
        help_text="The same of a dam that laid: a clutch is much of her weight.",
    )
    loss_weeks = models.PositiveSmallIntegerField(
        default=12,
        validators=[MinValueValidator(1), MaxValueValidator(104)],
        help_text="Compared with the heaviest of so many weeks.",
    )
    refusals_usual = models.PositiveSmallIntegerField(
        default=5,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="More refusals in a row are pointed out, until your own meals tell more.",
    )
    cautions = models.TextField(
        blank=True,
        help_text="Printed on sale sheets: health, care, permits, such as the appendix of CITES "
        "that it stands in. Name the source.",
    )

    class Meta:
        verbose_name_plural = "species"
        constraints = [
            live_unique(
                Lower("name"),
                name="species_name_once",
                message=("This name is in use already. Choose another."),
            ),
            models.CheckConstraint(
                condition=models.Q(sex_determination__in=SexDetermination.values),
                name="species_sex_determination_known",
            ),
            models.CheckConstraint(
                condition=models.Q(bearing__in=Bearing.values), name="species_bearing_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Refuse a least incubation above the most."""
        least, most = self.incubation_least, self.incubation_most
        if least is not None and most is not None and least > most:
            raise ValidationError(
                {"incubation_most": f"That is less than {least}, the least. Correct one."}
            )
        for step in WAY_STEPS:
            least, most = getattr(self, f"{step}_least"), getattr(self, f"{step}_most")
            if (least is None) != (most is None):
                raise ValidationError(
                    {f"{step}_most": "Give the least and the most of this, or neither."}
                )
            if least is not None and most is not None and least > most:
                raise ValidationError(
                    {f"{step}_most": f"That is less than {least}, the least. Correct one."}
                )

    @property
    def incubation_span(self) -> tuple[int, int]:
        """The least and the most days of incubation that nothing is asked about.

        Where they are not stated: two thirds of the usual to half as much again, which is no
        species' figure, only far enough off to be a slip.
        """
        least, most, usual = self.incubation_least, self.incubation_most, self.incubation_days
        least = usual * 2 // 3 if least is None else least
        return least, usual * 3 // 2 if most is None else most

    @property
    def incubation_stated(self) -> tuple[int, int]:
        """The least and the most days of incubation as stated, the usual where one is not."""
        usual = self.incubation_days
        least, most = self.incubation_least, self.incubation_most
        return usual if least is None else least, usual if most is None else most

    @property
    def bears_live(self) -> bool:
        """Whether it has litters instead of clutches."""
        return self.bearing == Bearing.LIVE

    @property
    def eggs_span(self) -> int:
        """The most eggs that nothing is asked about; not stated: three times the usual."""
        return self.eggs_usual * 3 if self.eggs_most is None else self.eggs_most

    @property
    def has_sex_chromosomes(self) -> bool:
        """Whether chromosomes decide sex: only then are sons and daughters even by chance."""
        return self.sex_determination in {SexDetermination.XY, SexDetermination.ZW}
