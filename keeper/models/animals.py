"""Animals, their photos, and what was seen on them."""

from datetime import date, timedelta
from typing import Self
from uuid import uuid4

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models.functions import Lower

from keeper.models.ancestry import with_ancestors
from keeper.models.clutches import Clutch, HatchRow
from keeper.models.genes import Trait
from keeper.models.record import Record, live_unique
from keeper.models.sources import Contact
from keeper.models.species import Species

DAYS_A_MONTH = 30.4375

record_code = RegexValidator(
    r"^[^\W_][\w.-]*$", "A code has letters, figures, and - . _ between them; no spaces."
)


class Sex(models.TextChoices):
    """The sex of an animal."""

    FEMALE = "female", "female"
    MALE = "male", "male"
    UNKNOWN = "unknown", "not known"


class SexTold(models.TextChoices):
    """How an animal's sex was told."""

    PROBED = "probed", "probed"
    POPPED = "popped", "popped"
    BRED = "bred", "it laid or sired"
    LOOK = "look", "by its look or size"
    STATED = "stated", "its source's word"


class Status(models.TextChoices):
    """Where an animal is in its life here."""

    KEPT = "kept", "kept"
    OFFERED = "offered", "for sale"
    HELD = "held", "on hold for a buyer"
    SOLD = "sold", "sold"
    LENT = "lent", "on loan"
    DIED = "died", "died"


# Not here any more: neither bred nor counted on.
GONE = (Status.SOLD, Status.DIED)


class Animal(Record):
    """An animal with a record of its own.

    Its parents are those of its clutch; or, for an animal from elsewhere whose parents are in
    the book, stated. With neither it is a founder.
    """

    # The same in every copy of the book, in exports and on papers; codes may be given anew.
    identity = models.UUIDField(default=uuid4, unique=True, editable=False)
    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="animals")
    code = models.CharField(max_length=24, validators=[record_code])
    name = models.CharField(max_length=60, blank=True)
    sex = models.CharField(max_length=7, choices=Sex.choices, default=Sex.UNKNOWN)
    sex_told = models.CharField(
        max_length=7,
        choices=SexTold.choices,
        blank=True,
        help_text="Probing and popping can injure; only if trained.",
    )
    hatched_on = models.DateField(null=True, blank=True)
    hatched_year = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1900), MaxValueValidator(2200)],
        help_text="Where the day is not known.",
    )
    acquired_on = models.DateField(null=True, blank=True)
    source = models.ForeignKey(
        Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="animals"
    )
    dam = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="stated_young_as_dam"
    )
    sire = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="stated_young_as_sire"
    )
    clutch = models.ForeignKey(
        Clutch, on_delete=models.PROTECT, null=True, blank=True, related_name="young"
    )
    # The line of the hatch in which this hatchling is counted.
    hatch_row = models.ForeignKey(
        HatchRow, on_delete=models.PROTECT, null=True, blank=True, related_name="recorded"
    )
    status = models.CharField(max_length=8, choices=Status.choices, default=Status.KEPT)
    status_since = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=40, blank=True, help_text="Rack, tub, room.")
    notes = models.TextField(blank=True)

    event_days = ("acquired_on", "hatched_on")

    class Meta:
        ordering = ["code"]
        constraints = [
            live_unique(
                Lower("code"),
                name="animal_code_once",
                message=("This code is in use already. Choose another."),
            ),
            models.CheckConstraint(
                condition=models.Q(clutch=None) | models.Q(dam=None, sire=None),
                name="animal_one_kind_of_parents",
            ),
            models.CheckConstraint(
                condition=models.Q(hatch_row=None) | ~models.Q(clutch=None),
                name="animal_hatch_row_with_clutch",
            ),
            models.CheckConstraint(condition=models.Q(sex__in=Sex.values), name="animal_sex_known"),
            models.CheckConstraint(
                condition=models.Q(status__in=Status.values), name="animal_status_known"
            ),
        ]
        indexes = [
            # The collection is filtered by these before anything else.
            models.Index(fields=["species", "status"], name="animal_by_status"),
            models.Index(fields=["hatched_year"], name="animal_by_year"),
        ]

    @property
    def hatched_at_earliest(self) -> date | None:
        """Its hatch day; of a year alone the first of it, so that it is as old as it may be."""
        if self.hatched_on is None and self.hatched_year:
            return date(self.hatched_year, 1, 1)
        return self.hatched_on

    @property
    def breeds_from(self) -> date | None:
        """From when its species breeds at the earliest; nothing where no age is known."""
        born = self.hatched_at_earliest
        months = {
            Sex.FEMALE: self.species.female_mature_months,
            Sex.MALE: self.species.male_mature_months,
        }.get(Sex(self.sex))
        if born is None or months is None:
            return None
        return born + timedelta(days=months * DAYS_A_MONTH)

    def happened_on(self, before: Self | None = None) -> date | None:
        """Return when it came or hatched; of one that is sold or dead now, since when."""
        if before is not None and before.status != self.status:
            return self.status_since
        return super().happened_on(before)

    def __str__(self) -> str:
        return self.code

    def save(self, *args: object, **kwargs: object) -> None:
        """Save with the year that follows from the day."""
        self.fill_in()
        super().save(*args, **kwargs)  # type: ignore[arg-type]

    def fill_in(self) -> None:
        """Set the year that follows from the day."""
        if self.hatched_on:
            self.hatched_year = self.hatched_on.year

    @property
    def is_founder(self) -> bool:
        """Whether no parents are recorded."""
        return not (self.clutch_id or self.dam_id or self.sire_id)

    def clean(self) -> None:
        """Refuse parents of the wrong sex, species or generation, and a row of another clutch."""
        self._clean_parents()
        self._clean_sex()
        if self.pk is not None and not self.is_founder and self.pk in self._ancestors():
            raise ValidationError(f"{self} would be an ancestor of its own. Choose another parent.")
        if self.hatch_row is not None and self.hatch_row.clutch_id != self.clutch_id:
            raise ValidationError(
                {"hatch_row": "That hatchling is counted in another clutch. Choose that clutch."}
            )
        if self.hatched_on and self.acquired_on and self.acquired_on < self.hatched_on:
            raise ValidationError(
                {"acquired_on": "It was acquired before it hatched. Correct one of the two days."}
            )

    def _clean_sex(self) -> None:
        """Refuse another sex for a dam or a sire: its young would have two of one."""
        before = self.as_read.get("sex", self.sex)
        if self.pk is None or self.sex == before:
            return
        young = Animal.objects.live().filter(models.Q(dam=self.pk) | models.Q(sire=self.pk))
        clutches = Clutch.objects.live().filter(
            models.Q(dam=self.pk)
            | models.Q(candidates__sire=self.pk, candidates__withdrawn_at=None)
        )
        codes = clutches.order_by("code").values_list("code", flat=True).distinct()[:3]
        named = [f"clutch {code}" for code in codes]
        named += young.order_by("code").values_list("code", flat=True)[:3]
        if named:
            parent = "dam" if before == Sex.FEMALE else "sire"
            raise ValidationError(
                {
                    "sex": f"{self} is recorded as the {parent} of {', '.join(named[:3])}. "
                    "Correct the parents there first."
                }
            )

        if self.breeding_as_dam.live().exists() or self.breeding_as_sire.live().exists():
            raise ValidationError(
                {
                    "sex": f"It is noted as put together with another, or on a way to a clutch, as "
                    f"a {before}. Withdraw that first."
                }
            )

    def _ancestors(self) -> set[int]:
        parents = {self.dam_id, self.sire_id}
        if self.clutch is not None:
            parents.add(self.clutch.dam_id)
            parents |= set(self.clutch.candidates.live().values_list("sire_id", flat=True))
        return with_ancestors(parents)

    def _clean_parents(self) -> None:
        if self.clutch_id and (self.dam_id or self.sire_id):
            raise ValidationError({"clutch": "Its clutch names its parents; leave these empty."})
        for field, parent, right in (
            ("dam", self.dam, Sex.FEMALE),
            ("sire", self.sire, Sex.MALE),
        ):
            if parent is None:
                continue
            if parent.sex != right:
                raise ValidationError(
                    {
                        field: (
                            f"{parent} is not recorded as {right}. "
                            "Correct its sex, or choose another."
                        )
                    }
                )
            if parent.species_id != self.species_id:
                raise ValidationError(
                    {field: f"{parent} is a {parent.species}. Choose one of its own species."}
                )
            early, late = parent.hatched_on, self.hatched_on
            if parent.pk == self.pk or (early and late and early >= late):
                raise ValidationError(
                    {
                        field: (
                            f"{parent} did not hatch before {self}. "
                            "Correct a day, or choose another."
                        )
                    }
                )


class Photo(Record):
    """A photo of an animal, re-encoded without the place it was taken at."""

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="photos")
    image = models.ImageField(
        upload_to="photos/%Y", width_field="width", height_field="height", max_length=200
    )
    width = models.PositiveIntegerField(editable=False)
    height = models.PositiveIntegerField(editable=False)
    taken_on = models.DateField(null=True, blank=True)
    caption = models.CharField(max_length=120, blank=True)

    event_days = ("taken_on",)

    class Meta:
        ordering = ["-taken_on", "-pk"]

    def __str__(self) -> str:
        return self.caption or f"photo of {self.animal}"


class Seen(models.TextChoices):
    """What a look at an animal told about a trait."""

    YES = "yes", "seen"
    NO = "no", "not seen"
    UNSURE = "unsure", "cannot tell"


class Look(Record):
    """A whole look at an animal: what no observation of it names was looked for and not seen.

    It speaks of the register as it was looked for on its day, and of what can be told of an animal
    at that age (`Trait.looked_for_since`, `told_from`, `told_until`).
    """

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="looks")
    on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    event_days = ("on",)

    class Meta:
        ordering = ["-on", "-pk"]

    def __str__(self) -> str:
        return f"whole look at {self.animal}"


class Observation(Record):
    """What a look at an animal told of one trait; part of a whole look, or by itself.

    All that are sure count. Two that differ contradict each other, unless the trait can be misread.
    """

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="observations")
    look = models.ForeignKey(
        Look, on_delete=models.PROTECT, null=True, blank=True, related_name="observations"
    )
    trait = models.ForeignKey(Trait, on_delete=models.PROTECT, related_name="observations")
    seen = models.CharField(max_length=6, choices=Seen.choices)
    on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    event_days = ("on",)

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(seen__in=Seen.values), name="observation_seen_known"
            )
        ]
        indexes = [
            # Few of a book's looks saw anything; who can carry what begins with those.
            models.Index(fields=["seen", "animal", "trait"], name="observation_by_look")
        ]

    def __str__(self) -> str:
        return f"{self.trait} {self.get_seen_display()} on {self.animal}"

    def clean(self) -> None:
        """Refuse a trait of another species, and a look at another animal or on another day."""
        if self.trait_id and self.animal_id and self.trait.species_id != self.animal.species_id:
            raise ValidationError(
                {"trait": f"{self.trait} is no trait of {self.animal.species}. Choose one that is."}
            )
        if self.look is not None and self.look.animal_id != self.animal_id:
            raise ValidationError(f"{self.look} was no look at {self.animal}. Choose another.")
        if self.look is not None and self.look.on != self.on:
            raise ValidationError(
                {"on": f"The {self.look} was on {self.look.on:%-d %B %Y}. Give that day."}
            )
