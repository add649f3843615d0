"""Projects: what is to be bred, who is in it, and why each is held back."""

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models.functions import Lower

from keeper.models.animals import Animal
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
        for one in self.look.parts.live().select_related("trait").prefetch_related("lines__trait"):
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
