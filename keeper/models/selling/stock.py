"""What is for sale: what is asked for an animal, and what became of it."""

from decimal import Decimal
from itertools import pairwise
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q

from keeper.models.animals import Animal
from keeper.models.record import Record
from keeper.models.sources import Contact

currency_code = RegexValidator(
    r"^[A-Z]{3}$", "A currency is three capital letters, such as EUR (ISO 4217)."
)


def amount(help_text: str) -> "models.DecimalField[Any, Any]":
    """Return a column for an exact sum of money; empty: none is said."""
    return models.DecimalField(
        max_digits=12,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0))],
        help_text=help_text,
    )


def currency() -> "models.CharField[Any, Any]":
    """Return a column for the currency of the sums beside it."""
    return models.CharField(
        max_length=3,
        blank=True,
        validators=[currency_code],
        help_text="The currency of its sums, by ISO 4217; empty: there are none.",
    )


class Offer(Record):
    """An animal that is for sale, at one price; another price is another offer."""

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="offers")
    asked = amount("What is asked for it; empty: on asking.")
    currency = currency()
    on = models.DateField(help_text="Since when it is asked.")
    ended_on = models.DateField(
        null=True, blank=True, help_text="Until when it was asked; empty: it is."
    )

    event_days = ("on", "ended_on")

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["animal"],
                condition=Q(withdrawn_at=None, ended_on=None),
                name="offer_one_at_a_time",
                violation_error_message="It is for sale already. Change what is asked for it.",
            ),
            models.CheckConstraint(
                condition=Q(asked=None) | ~Q(currency=""), name="offer_with_currency"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.animal} for sale"

    def clean(self) -> None:
        """Refuse a sum without its currency, and an end before the beginning."""
        if self.asked is not None and not self.currency:
            raise ValidationError({"currency": "Say in which currency."})
        if self.ended_on and self.ended_on < self.on:
            raise ValidationError({"ended_on": "It ended before it began. Correct one day."})


class SaleEnd(models.TextChoices):
    """How a sale ended that did not stay one."""

    CALLED_OFF = "called off", "called off"
    RETURNED = "returned", "returned"


class SaleState(models.TextChoices):
    """How far a sale has come; it follows from its days."""

    HELD = "held", "on hold"
    SOLD = "sold", "sold, to be handed over"
    HANDED = "handed", "handed over"
    CALLED_OFF = "called off", "called off"
    RETURNED = "returned", "returned"


class Sale(Record):
    """An animal held for a buyer, sold and handed over; what it brought, and whether it came back.

    What it was sold as is kept in words as they stood on the day.
    """

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="sales")
    buyer = models.ForeignKey(
        Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="bought"
    )
    price = amount("What was agreed for it.")
    deposit = amount("What of it was paid to have it held.")
    currency = currency()
    held_on = models.DateField(null=True, blank=True, help_text="Since when it is held.")
    held_until = models.DateField(
        null=True, blank=True, help_text="Until when it is held; empty: no day was agreed."
    )
    sold_on = models.DateField(null=True, blank=True, help_text="On which day it was sold.")
    handed_on = models.DateField(null=True, blank=True, help_text="On which day it went.")
    ended_on = models.DateField(
        null=True, blank=True, help_text="When it was called off, or came back."
    )
    ended_as = models.CharField(
        max_length=10,
        blank=True,
        choices=SaleEnd.choices,
        help_text="Called off or returned; empty: neither.",
    )
    note = models.CharField(max_length=200, blank=True)
    sold_as = models.TextField(
        blank=True, editable=False, help_text="What it was sold as, in the shorthand of the trade."
    )
    genes = models.JSONField(
        default=list,
        editable=False,
        help_text="The same as pairs of a trait's name and in what sense it has it.",
    )

    event_days = ("held_on", "sold_on", "handed_on", "ended_on")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["animal"],
                condition=Q(withdrawn_at=None, ended_on=None),
                name="sale_one_at_a_time",
                violation_error_message=(
                    "It is held for somebody or sold already. Call that off first, or write down "
                    "that it came back."
                ),
            ),
            models.CheckConstraint(
                condition=Q(held_on__isnull=False) | Q(sold_on__isnull=False),
                name="sale_held_or_sold",
            ),
            models.CheckConstraint(
                condition=Q(ended_on=None, ended_as="")
                | (Q(ended_on__isnull=False) & Q(ended_as__in=SaleEnd.values)),
                name="sale_end_known",
            ),
        ]
        indexes = [models.Index(fields=["sold_on"], name="sale_by_day")]

    def __str__(self) -> str:
        return f"sale of {self.animal}"

    @property
    def state(self) -> SaleState:
        """How far it has come."""
        if self.ended_as:
            return SaleState(self.ended_as)
        if self.handed_on:
            return SaleState.HANDED
        return SaleState.SOLD if self.sold_on else SaleState.HELD

    @property
    def balance(self) -> Decimal | None:
        """What is left to pay beside the deposit; None where no price was agreed."""
        return None if self.price is None else self.price - (self.deposit or 0)

    def clean(self) -> None:
        """Refuse sums that cannot be, and days out of order."""
        if (self.price is not None or self.deposit is not None) and not self.currency:
            raise ValidationError({"currency": "Say in which currency."})
        if self.price is not None and self.deposit is not None and self.deposit > self.price:
            raise ValidationError({"deposit": "The deposit is more than the price. Correct one."})
        days = ("held_on", "sold_on", "handed_on", "ended_on")
        steps = [(name, day) for name in days if (day := getattr(self, name))]
        for (_, before), (name, after) in pairwise(steps):
            if after < before:
                raise ValidationError(
                    {name: "That day comes before an earlier step of the sale. Correct one day."}
                )
        if self.handed_on and not self.sold_on:
            raise ValidationError({"sold_on": "It was handed over. Say on which day it was sold."})
        if self.held_until and self.held_on and self.held_until < self.held_on:
            raise ValidationError({"held_until": "It ends before it begins. Correct one day."})


class StockPage(models.Model):
    """The public page of what is for sale, as it was made; the only row, and none: it is off."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    code = models.CharField(
        max_length=32, unique=True, help_text="What the page is called; nobody can guess it."
    )
    made_at = models.DateTimeField(help_text="When what it shows was taken from the book.")
    prices = models.BooleanField(default=False, help_text="Whether it says what is asked.")
    content = models.JSONField(
        help_text="What it says of each animal, and who sells; of no other person."
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="stock_page_once")]

    def __str__(self) -> str:
        return "public stock page"
