"""Labels for tubs and egg boxes: what they are printed on, and what was printed.

A label opens the record that it is of. Its code holds the name under which the book was reached
when it was printed, and the record's identity; nothing else, and nothing that lets anybody in.
"""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from keeper.models.animals import Animal
from keeper.models.care.places import Place
from keeper.models.clutches import Clutch, HatchRow
from keeper.models.record import Record, live_unique

# Millimetres: below this a phone reads no code, and no word is readable.
LEAST_WIDE, LEAST_HIGH = Decimal(18), Decimal(12)
# As many as a sheet has at most, and as are printed at once.
MOST_ACROSS, MOST_DOWN, MOST_AT_ONCE = 20, 40, 500


def _millimetres(help_text: str, *, least: str = "0", most: str = "600") -> models.DecimalField:  # type: ignore[type-arg]  # the stubs ask for what a field takes
    bounds = [MinValueValidator(Decimal(least)), MaxValueValidator(Decimal(most))]
    return models.DecimalField(
        max_digits=5,
        decimal_places=1,
        default=Decimal(least),
        validators=bounds,
        help_text=help_text,
    )


class LabelSheet(Record):
    """What labels are printed on, by its measures in millimetres.

    A label printer's roll is a sheet of one column and one row: one label a page.
    """

    name = models.CharField(max_length=60, help_text="What you call it: tub labels, A4, 21 a page.")
    page_width = _millimetres("How wide the page is, or the roll's label.", least="15")
    page_height = _millimetres("How high the page is, or the roll's label.", least="10")
    across = models.PositiveSmallIntegerField(
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_ACROSS)],
        help_text="Labels side by side; of a label printer one.",
    )
    down = models.PositiveSmallIntegerField(
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_DOWN)],
        help_text="Labels below one another; of a label printer one.",
    )
    left = _millimetres("From the page's edge to the first label.")
    right = _millimetres("From the last label to the page's edge.")
    top = _millimetres("From the page's edge to the first label.")
    bottom = _millimetres("From the last label to the page's edge.")
    gap_across = _millimetres("Between two that stand side by side.")
    gap_down = _millimetres("Between two that stand below one another.")

    class Meta:
        ordering = ["name"]
        constraints = [live_unique(Lower("name"), name="label_sheet_name_once")]

    def __str__(self) -> str:
        return self.name

    @property
    def a_page(self) -> int:
        """How many labels a page has."""
        return self.across * self.down

    @property
    def width(self) -> Decimal:
        """How wide a label is, in millimetres."""
        gaps = self.gap_across * (self.across - 1)
        room: Decimal = self.page_width - self.left - self.right - gaps
        return room / self.across

    @property
    def height(self) -> Decimal:
        """How high a label is, in millimetres."""
        gaps = self.gap_down * (self.down - 1)
        room: Decimal = self.page_height - self.top - self.bottom - gaps
        return room / self.down

    def clean(self) -> None:
        """Refuse measures that leave no label that can be read."""
        if self.width < LEAST_WIDE or self.height < LEAST_HIGH:
            raise ValidationError(
                f"By these measures a label is {self.width:.1f} × {self.height:.1f} mm, and below "
                f"{LEAST_WIDE} × {LEAST_HIGH} mm no phone reads its code. Measure the sheet again, "
                "or choose larger labels."
            )


class LabelRun(Record):
    """Labels that were printed together."""

    sheet = models.ForeignKey(
        LabelSheet, on_delete=models.PROTECT, related_name="runs", help_text="On what."
    )
    address = models.CharField(
        max_length=200, help_text="Under which address of the book its codes are followed."
    )
    first = models.PositiveSmallIntegerField(
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_ACROSS * MOST_DOWN)],
        help_text="At which label of the first page it begins: those before were used already.",
    )
    on = models.DateField()

    event_days = ("on",)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"labels of {self.on:%-d %B %Y}"


class Label(Record):
    """One label: of an animal, of a clutch's eggs, of a place, or of a hatchling's tub.

    A tub's number is its hatchling's code until it has a record: it counts on within the clutch and
    is never given twice.
    """

    run = models.ForeignKey(LabelRun, on_delete=models.PROTECT, related_name="labels")
    number = models.PositiveSmallIntegerField(help_text="Its turn among those printed together.")
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="labels"
    )
    clutch = models.ForeignKey(
        Clutch, on_delete=models.PROTECT, null=True, blank=True, related_name="labels"
    )
    place = models.ForeignKey(
        Place, on_delete=models.PROTECT, null=True, blank=True, related_name="labels"
    )
    row = models.ForeignKey(
        HatchRow,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="labels",
        help_text="As which hatchlings of the clutch the one in the tub was counted.",
    )
    tub = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="The number of a hatchling's tub within its clutch."
    )

    class Meta:
        ordering = ["run", "number"]
        constraints = [
            models.CheckConstraint(
                condition=Q(animal__isnull=False, clutch=None, place=None, row=None, tub=None)
                | Q(animal=None, clutch=None, place__isnull=False, row=None, tub=None)
                | Q(animal=None, clutch__isnull=False, place=None, row=None, tub=None)
                | Q(animal=None, clutch__isnull=False, place=None, row__isnull=False)
                & Q(tub__isnull=False),
                name="label_of_one",
            ),
            # Withdrawn ones too: the paper is still about.
            models.UniqueConstraint(fields=["clutch", "tub"], name="label_tub_once"),
        ]

    def __str__(self) -> str:
        if self.tub is not None:
            return f"label of {self.clutch} {tub_code(self.tub)}"
        return f"label of {self.animal or self.clutch or self.place}"


def tub_code(tub: int) -> str:
    """Return how a hatchling's tub is called within its clutch, until it has a record.

    >>> tub_code(3)
    'T3'
    """
    return f"T{tub}"
