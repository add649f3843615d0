"""Projects: what is to be bred, who is in it and why, the way chosen, who is to be paired."""

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower

from keeper.models.animals import Animal, Sex
from keeper.models.genes import Line, Trait
from keeper.models.named_looks import NamedLook
from keeper.models.record import Record, live_unique
from keeper.models.species import Species


class Project(Record):
    """A goal of several seasons."""

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="projects")
    name = models.CharField(max_length=80)
    wanted = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1)], help_text="How many such animals."
    )
    sex = models.CharField(
        max_length=7,
        choices=[("female", "female"), ("male", "male"), ("unknown", "either sex")],
        default="unknown",
    )
    places = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="How many animals there is room for in this project.",
    )
    notes = models.TextField(blank=True)
    closed_on = models.DateField(null=True, blank=True)

    event_days = ("closed_on",)

    class Meta:
        ordering = ["name"]
        constraints = [
            live_unique(
                Lower("name"),
                name="project_name_once",
                message=("This name is in use already. Choose another."),
            )
        ]

    def __str__(self) -> str:
        return self.name


class Need(models.TextChoices):
    """What an animal must be in one trait to reach the goal."""

    SHOWS = "shows", "shows it"
    CARRIES = "carries", "carries at least one copy"
    TWO = "two", "has two copies"


class GoalPart(Record):
    """One part of a project's goal; all parts must be met in one animal."""

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="goal_parts")
    trait = models.ForeignKey(Trait, on_delete=models.PROTECT, related_name="+")
    line = models.ForeignKey(
        Line, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    need = models.CharField(max_length=7, choices=Need.choices, default=Need.SHOWS)

    # Of a part that a named look brings in: its id, and the lines that alone may show it, if any.
    of_look: int | None = None
    among: tuple[Line, ...] = ()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.get_need_display()}: {self.line or self.trait}"

    def clean(self) -> None:
        """Refuse a trait of another species and a line of another trait."""
        if self.trait_id and self.trait.species_id != self.project.species_id:
            raise ValidationError(
                {"trait": f"{self.trait} is no trait of this species. Choose one that is."}
            )
        if self.line is not None and self.line.trait_id != self.trait_id:
            raise ValidationError(
                {"line": f"{self.line} is no line of {self.trait}. Choose one that is."}
            )


class GoalLook(Record):
    """A named look that the animals of a project's goal must show."""

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="goal_looks")
    look = models.ForeignKey(NamedLook, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [live_unique("project", "look", name="goal_look_once")]

    def __str__(self) -> str:
        return f"{Need.SHOWS.label}: {self.look}"

    def clean(self) -> None:
        """Refuse a look of another species."""
        if self.look_id and self.look.species_id != self.project.species_id:
            raise ValidationError(
                {"look": f"{self.look} is no look of this species. Choose one that is."}
            )

    def as_parts(self) -> list[GoalPart]:
        """What the look is made of as parts of the goal; they are in memory alone."""
        found = []
        parts = self.look.parts.live().select_related("trait__base")
        for one in parts.prefetch_related("lines__trait"):
            lines = tuple(line for line in one.lines.all() if not line.is_withdrawn)
            line = lines[0] if len(lines) == 1 else None
            part = GoalPart(project=self.project, trait=one.trait, line=line, need=Need.SHOWS)
            part.of_look, part.among = self.look_id, lines
            found.append(part)
        return found


class Member(Record):
    """An animal in a project: bred from, or a hatchling held back for it."""

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="members")
    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="memberships")
    holdback = models.BooleanField(default=True)
    reason = models.CharField(max_length=200, help_text="Why this one.")
    since = models.DateField()
    review_on = models.DateField(null=True, blank=True)
    released_on = models.DateField(null=True, blank=True, editable=False)
    release_reason = models.CharField(max_length=200, blank=True, editable=False)

    event_days = ("since", "released_on")

    class Meta:
        ordering = ["animal__code"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "animal"],
                condition=models.Q(withdrawn_at=None, released_on=None),
                name="member_once",
                violation_error_message="It is in this project already. Choose another.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.animal} in {self.project}"

    def clean(self) -> None:
        """Refuse another species, and a holdback that nobody is going to look at again."""
        if self.animal_id and self.animal.species_id != self.project.species_id:
            raise ValidationError(
                {"animal": f"{self.animal} is a {self.animal.species}. Choose one of its species."}
            )
        if self.holdback and self.review_on is None:
            raise ValidationError({"review_on": "Say when to look at this holdback again."})


class Plan(Record):
    """The way chosen for a project: what is bred and kept, generation by generation.

    Its figures are those of the day it was chosen on.
    """

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="plans")
    chosen_on = models.DateField()
    eggs = models.PositiveSmallIntegerField(help_text="Living hatchlings of a clutch.")
    seasons = models.FloatField(help_text="Seasons to the goal, as reckoned then.")

    event_days = ("chosen_on",)

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
                raise ValidationError(
                    "A parent is one animal, or what one step keeps. Choose one of the two."
                )


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
