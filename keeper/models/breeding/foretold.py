"""What the book said of a clutch's looks before anything had hatched, kept as it was said."""

from django.db import models

from keeper.models.clutches import Clutch
from keeper.models.record import Record, live_unique


class Foretold(Record):
    """The chances of a clutch's looks as they stood when its hatch was first logged.

    Nothing that hatched is in them, and nothing that came later: a forecast that is worked out
    again when the answer is known is none. A clutch that hatched before the book kept this, and
    one that came in with a table, has no such row.
    """

    clutch = models.ForeignKey(Clutch, on_delete=models.PROTECT, related_name="foretold")
    sires = models.JSONField(
        help_text="Of each candidate sire [share, parts]; a part of the genome is a list of kinds "
        "that the parents may be, [weight, looks]; a look is [traits shown, traits hidden, chance]."
    )
    each = models.BooleanField(
        default=False, help_text="Whether each egg may have had a sire of its own."
    )
    sons = models.FloatField(help_text="How likely a hatchling was to be a son.")
    exact = models.BooleanField(
        default=True,
        help_text="Whether every chance was worked out exactly and rested on no dispute.",
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            live_unique(
                "clutch",
                name="foretold_once",
                message="What was said of this clutch is kept already. Leave it as it was said.",
            )
        ]

    def __str__(self) -> str:
        return f"what was said of clutch {self.clutch}"
