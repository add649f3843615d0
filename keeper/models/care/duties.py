"""What is to be done by a day: chores that a keeper writes down, and how others are arranged.

Most of what is due is stored nowhere: it follows from the records (a clutch hatches so many days
after it was laid). An arrangement says of one of these that it is put off, or who does it.
"""

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from keeper.models.animals import Animal
from keeper.models.care.places import Place
from keeper.models.clutches import Clutch
from keeper.models.projects import Member
from keeper.models.record import Record


class Chore(Record):
    """Something to be done by a day, in the keeper's words; done, it may come again."""

    what = models.CharField(max_length=120, help_text="What is to be done.")
    on = models.DateField(help_text="By which day.")
    every = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(1000)],
        help_text="Once it is done, it comes again after so many days; empty: it does not.",
    )
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="chores"
    )
    place = models.ForeignKey(
        Place, on_delete=models.PROTECT, null=True, blank=True, related_name="chores"
    )
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="chores",
        help_text="Who does it; empty: whoever is there.",
    )
    done_on = models.DateField(
        null=True, blank=True, editable=False, help_text="When it was done; empty: it waits."
    )

    event_days = ("done_on",)

    class Meta:
        ordering = ["on", "pk"]
        indexes = [
            # Today asks for those that wait: a handful of all that were ever done.
            models.Index(
                fields=["on"], name="chore_waiting", condition=Q(done_on=None, withdrawn_at=None)
            )
        ]

    def __str__(self) -> str:
        return self.what

    def clean(self) -> None:
        """Refuse what is about an animal and about a place."""
        if self.animal_id and self.place_id:
            raise ValidationError(
                {"place": "It is about an animal already, whose place is known. Leave one empty."}
            )


class Arranged(models.TextChoices):
    """What is due by the records and can be put off or given to somebody."""

    HATCH = "hatch", "hatch"
    SHED = "shed", "shed before laying"
    LAID = "laid", "laying"
    BORN = "born", "birth"
    FIRST_SHED = "first_shed", "first shed"
    FIRST_MEAL = "first_meal", "first meal"
    QUARANTINE = "quarantine", "end of quarantine"
    REVIEW = "review", "holdback to look at again"


class Arrangement(Record):
    """That something due is put off until a day, or who does it."""

    kind = models.CharField(max_length=10, choices=Arranged.choices, help_text="What is due.")
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="arrangements"
    )
    clutch = models.ForeignKey(
        Clutch, on_delete=models.PROTECT, null=True, blank=True, related_name="arrangements"
    )
    member = models.ForeignKey(
        Member, on_delete=models.PROTECT, null=True, blank=True, related_name="arrangements"
    )
    until = models.DateField(
        null=True, blank=True, help_text="Until when it is put off; empty: it is not."
    )
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="arrangements",
        help_text="Who does it; empty: whoever is there.",
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=Arranged.values), name="arrangement_kind_known"
            ),
            models.CheckConstraint(
                condition=Q(animal__isnull=False, clutch=None, member=None)
                | Q(animal=None, clutch__isnull=False, member=None)
                | Q(animal=None, clutch=None, member__isnull=False),
                name="arrangement_of_one",
            ),
            *(
                models.UniqueConstraint(
                    fields=["kind", of],
                    condition=Q(withdrawn_at=None, **{f"{of}__isnull": False}),
                    name=f"arrangement_once_{of}",
                    violation_error_message=(
                        "This is arranged already. Look at it again, and change that."
                    ),
                )
                for of in ("animal", "clutch", "member")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.animal or self.clutch or self.member}"


class CalendarFeed(models.Model):
    """The secret address of an account's calendar. Its secret is kept as a digest, told once."""

    account = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="calendar"
    )
    digest = models.CharField(max_length=64, unique=True, editable=False)
    since = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"calendar of {self.account}"
