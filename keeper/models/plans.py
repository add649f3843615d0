"""Plans: the way chosen for a project, step by step, and who is to be paired this season."""

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from keeper.models.animals import Animal, Sex
from keeper.models.projects import Project
from keeper.models.record import Record, live_unique


class Plan(Record):
    """The way chosen for a project: what is bred and kept, generation by generation.

    Its figures are those of the day it was chosen on.
    """

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="plans")
    chosen_on = models.DateField()
    eggs = models.PositiveSmallIntegerField(help_text="Living hatchlings of a clutch.")
    seasons = models.FloatField(help_text="Seasons to the goal, as reckoned then.")

    class Meta:
        ordering = ["-chosen_on", "-pk"]
        constraints = [
            live_unique(
                "project",
                name="plan_once",
                message="This project has a plan already. Give that one up first.",
            )
        ]

    def __str__(self) -> str:
        return f"plan of {self.project}"


class PlanStep(Record):
    """One cross of a plan and what is kept of it; a parent is an animal, or what a step kept."""

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="steps")
    number = models.PositiveSmallIntegerField()
    generation = models.PositiveSmallIntegerField()
    dam = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="planned_as_dam"
    )
    dam_of = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="daughters_bred"
    )
    sire = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="planned_as_sire"
    )
    sire_of = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="sons_bred"
    )
    keeps = models.CharField(max_length=300, help_text="What is kept, in words.")
    sex = models.CharField(
        max_length=7,
        choices=[
            ("female", "a female"),
            ("male", "a male"),
            ("both", "one of each sex"),
            ("any", "either sex"),
        ],
    )
    chance = models.FloatField(help_text="Chance of one hatchling.")
    clutch_chance = models.FloatField(help_text="Chance that a clutch gives it.")
    known = models.BooleanField(help_text="All that look so are of one genotype.")

    class Meta:
        ordering = ["number"]
        constraints = [live_unique("plan", "number", name="plan_step_once")]

    def __str__(self) -> str:
        return f"step {self.number} of the {self.plan}"

    def clean(self) -> None:
        """Refuse a step without a parent on either side, or with two on one."""
        for parent, kept in ((self.dam, self.dam_of), (self.sire, self.sire_of)):
            if (parent is None) == (kept is None):
                raise ValidationError("Each parent is one animal, or what one step keeps.")


class PlannedPairing(Record):
    """A female and a male that are to be paired in a season."""

    season = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1900), MaxValueValidator(2200)],
        help_text="The year in which the clutch would be laid.",
    )
    dam = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="pairings_as_dam")
    sire = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="pairings_as_sire")
    reason = models.CharField(max_length=300, help_text="Why these two.")

    class Meta:
        ordering = ["season", "dam__code"]
        constraints = [
            live_unique(
                "season",
                "dam",
                name="planned_pairing_once",
                message="She is planned with a male in that season already. Change that one.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.dam} × {self.sire} in {self.season}"

    def clean(self) -> None:
        """Refuse parents of the wrong sex, and two of different species."""
        for field, one, right in (("dam", self.dam, Sex.FEMALE), ("sire", self.sire, Sex.MALE)):
            if one.sex != right:
                raise ValidationError(
                    {field: f"{one} is not recorded as {right}. Choose one that is."}
                )
        if self.dam.species_id != self.sire.species_id:
            raise ValidationError(
                {
                    "sire": f"{self.dam} is a {self.dam.species} and {self.sire} a "
                    f"{self.sire.species}. Choose two of one species."
                }
            )
