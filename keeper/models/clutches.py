"""Clutches: who, when, how many eggs, and what hatched."""

from datetime import date, timedelta
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Model
from django.db.models.functions import Lower

from keeper.models.ancestry import with_ancestors
from keeper.models.chance import ChanceField
from keeper.models.genes import Trait
from keeper.models.record import Record, live_unique
from keeper.models.species import Species

# No reptile lays so many; a typed figure above it is no count of eggs.
MOST_EGGS = 1000


class Paternity(models.TextChoices):
    """Whether one sire has the whole clutch or each egg its own."""

    ONE = "one", "one sire for the whole clutch"
    EACH = "each", "each egg may have its own sire"


class Clutch(Record):
    """Eggs of one dam. Without a candidate its sire is not recorded."""

    # The same in every copy of the book, in exports and on papers; codes may be given anew.
    identity = models.UUIDField(default=uuid4, unique=True, editable=False)
    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="clutches")
    code = models.CharField(max_length=24)
    dam = models.ForeignKey(
        "keeper.Animal", on_delete=models.PROTECT, null=True, blank=True, related_name="clutches"
    )
    paternity = models.CharField(max_length=4, choices=Paternity.choices, default=Paternity.ONE)
    laid_on = models.DateField(null=True, blank=True)
    eggs = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(MOST_EGGS)],
        help_text="All that were laid, slugs included.",
    )
    slugs = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(MOST_EGGS)])
    lost = models.PositiveSmallIntegerField(
        default=0,
        validators=[MaxValueValidator(MOST_EGGS)],
        help_text="Good eggs that died before hatching.",
    )
    hatched_on = models.DateField(null=True, blank=True)
    test_breeding = models.BooleanField(
        default=False, help_text="Bred to find out what a parent carries."
    )
    notes = models.TextField(blank=True)

    event_days = ("laid_on", "hatched_on")

    class Meta:
        verbose_name_plural = "clutches"
        ordering = ["-laid_on", "-pk"]
        constraints = [
            live_unique(
                Lower("code"),
                name="clutch_code_once",
                message=("This code is in use already. Choose another."),
            ),
            models.CheckConstraint(
                condition=models.Q(eggs=None)
                | models.Q(eggs__gte=models.F("slugs") + models.F("lost")),
                name="clutch_eggs_add_up",
            ),
        ]
        indexes = [models.Index(fields=["laid_on"], name="clutch_by_day")]

    @property
    def due_on(self) -> date | None:
        """About when it should hatch, if it was laid and has not."""
        if self.laid_on is None or self.hatched_on is not None:
            return None
        return self.laid_on + timedelta(days=self.species.incubation_days)

    def __str__(self) -> str:
        return self.code

    def clean(self) -> None:
        """Refuse a dam that is none, days in the wrong order, and more losses than eggs."""
        if self.dam is not None and self.dam.sex != "female":
            raise ValidationError(
                {
                    "dam": (
                        f"{self.dam} is not recorded as female. Correct its sex, or choose another."
                    )
                }
            )
        if self.dam is not None and self.dam.species_id != self.species_id:
            raise ValidationError(
                {"dam": f"{self.dam} is a {self.dam.species}. Choose one of its species."}
            )
        self.refuse_own_young(self.dam, "dam")
        if self.laid_on and self.hatched_on and self.hatched_on <= self.laid_on:
            raise ValidationError(
                {"hatched_on": "It hatched before it was laid. Correct one of the two days."}
            )
        born = self.dam.hatched_on if self.dam else None
        if born and self.laid_on and self.laid_on <= born:
            raise ValidationError(
                {
                    "laid_on": (
                        f"{self.dam} had not hatched by then. "
                        "Correct the day, or choose another dam."
                    )
                }
            )
        if self.eggs is not None and self.slugs + self.lost > self.eggs:
            raise ValidationError(
                {
                    "eggs": (
                        f"Slugs ({self.slugs}) and lost ({self.lost}) are more than the "
                        f"eggs ({self.eggs}). "
                        "Correct one of the three."
                    )
                }
            )

    def refuse_own_young(self, parent: Model | None, field: str) -> None:
        """Refuse a parent that hatched from this clutch, or descends from one that did."""
        if parent is None or self.pk is None:
            return
        young = set(self.young.values_list("pk", flat=True))
        if young and young & with_ancestors([parent.pk]):
            raise ValidationError({field: f"{parent} descends from this clutch. Choose another."})


class CandidateSire(Record):
    """A male that may have sired a clutch, and how likely before anything hatched.

    The shares of a clutch's candidates are taken in proportion; no sire: one not recorded or,
    where `alone` says so, none at all: young of the dam alone, known of pythons and colubrids.
    """

    clutch = models.ForeignKey(Clutch, on_delete=models.PROTECT, related_name="candidates")
    sire = models.ForeignKey(
        "keeper.Animal", on_delete=models.PROTECT, null=True, blank=True, related_name="sired"
    )
    share = ChanceField(default="1")
    alone = models.BooleanField(default=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            live_unique("clutch", "sire", name="candidate_sire_once"),
            models.CheckConstraint(
                condition=models.Q(alone=False) | models.Q(sire=None), name="candidate_alone"
            ),
        ]

    def __str__(self) -> str:
        if self.alone:
            return "no male: the dam alone"
        return str(self.sire) if self.sire else "a male not recorded"

    def clean(self) -> None:
        """Refuse a sire that is none, a share of nothing, and young of nobody."""
        if self.alone and self.clutch.dam_id is None:
            raise ValidationError("Young of the dam alone need a dam: name her.")
        if self.sire is not None and self.sire.sex != "male":
            raise ValidationError(
                {
                    "sire": (
                        f"{self.sire} is not recorded as male. Correct its sex, or choose another."
                    )
                }
            )
        if self.sire is not None and self.sire.species_id != self.clutch.species_id:
            raise ValidationError(
                {"sire": f"{self.sire} is a {self.sire.species}. Choose one of its species."}
            )
        self.clutch.refuse_own_young(self.sire, "sire")
        if self.share is not None and self.share == 0:
            raise ValidationError({"share": "A candidate with no chance is none: take it out."})


class HatchRow(Record):
    """So many hatchlings of a clutch that looked the same.

    `count` counts all of them, those with a record of their own included; the others are a
    tally, which is evidence just the same.
    """

    clutch = models.ForeignKey(Clutch, on_delete=models.PROTECT, related_name="hatch_rows")
    count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    sex = models.CharField(
        max_length=7,
        choices=[("female", "female"), ("male", "male"), ("unknown", "not known")],
        default="unknown",
    )
    # What no sighting of it names was then looked for and not seen, as in a `Look`.
    whole = models.BooleanField(default=False)
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(count__gte=1), name="hatch_row_counts")
        ]

    def __str__(self) -> str:
        return f"{self.count} hatchling{'' if self.count == 1 else 's'} of {self.clutch}"


class RowSighting(Record):
    """A trait that was seen on all hatchlings of a row, was not, or could not be told (None)."""

    row = models.ForeignKey(HatchRow, on_delete=models.PROTECT, related_name="sightings")
    trait = models.ForeignKey(Trait, on_delete=models.PROTECT, related_name="+")
    seen = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints = [live_unique("row", "trait", name="row_sighting_once")]

    def __str__(self) -> str:
        if self.seen is None:
            return f"{self.trait} cannot be told"
        return f"{self.trait} {'seen' if self.seen else 'not seen'}"
