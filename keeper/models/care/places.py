"""Places: rooms, racks, tubs and shelves as a tree, each with what it can hold."""

from uuid import uuid4

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower

from keeper.models.record import Record, live_unique


class PlaceKind(models.TextChoices):
    """What a place is."""

    ROOM = "room", "room"
    RACK = "rack", "rack"
    TUB = "tub", "tub or cage"
    INCUBATOR = "incubator", "incubator"
    SHELF = "shelf", "shelf"


class Place(Record):
    """Somewhere animals or eggs are kept, in another place or by itself.

    An animal is in it whose own place (a text: `Animal.place`) is exactly this name. So a place
    that somebody only wrote down counts as well, and becomes one of the tree when it is entered.
    """

    # The same in every copy of the book, and on its label; places may be given another name.
    identity = models.UUIDField(default=uuid4, unique=True, editable=False)
    name = models.CharField(
        max_length=40, help_text="As it stands with the animals: Rack 7 · 12, for one."
    )
    kind = models.CharField(max_length=9, choices=PlaceKind.choices, default=PlaceKind.TUB)
    within = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="parts",
        help_text="The place that it is a part of.",
    )
    holds = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(10_000)],
        help_text="How many animals it can hold; empty: as many as its parts do, or not said.",
    )
    position = models.PositiveSmallIntegerField(
        default=0, help_text="Its turn among the parts of the same place: a round goes by it."
    )
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["position", "name"]
        constraints = [
            live_unique(
                Lower("name"),
                name="place_name_once",
                message="There is a place of this name already. Choose another.",
            ),
            models.CheckConstraint(
                condition=models.Q(kind__in=PlaceKind.values), name="place_kind_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Refuse a place within itself."""
        above, seen = self.within, set[int]()
        while above is not None and above.pk not in seen:
            if self.pk is not None and above.pk == self.pk:
                raise ValidationError(
                    {"within": f"{self} would be a part of itself. Choose another place."}
                )
            seen.add(above.pk)
            above = above.within
