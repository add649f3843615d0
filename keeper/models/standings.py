"""What the whole book says each animal carries; computed, never typed."""

from django.db import models

from keeper.models.animals import Animal
from keeper.models.clutches import Clutch
from keeper.models.daybook import DaybookEntry
from keeper.models.genes import Line, Trait
from keeper.models.named_looks import NamedLook
from keeper.models.species import Species


class Word(models.TextChoices):
    """In what sense an animal carries a trait; the words are never mixed (honesty rule 3)."""

    VISUAL = "visual", "visual"
    PROVEN = "proven", "proven"
    PARENTAGE = "parentage", "het by parentage"
    TESTED = "tested", "found by a laboratory"
    LABORATORIES = "labs", "laboratories disagree"
    DEDUCED = "deduced", "must carry it"
    STATED = "stated", "stated by the source, not tested here"
    POSSIBLE = "possible", "possible het"
    CLEAN = "clean", "tested clean so far"
    ABSENT = "absent", "does not carry it"


class Dispute(models.Model):
    """Records that cannot all be true, found by the engine. Closed when they can again.

    `conflict` lists the records as `{"model", "pk", "text"}`: any one of them dropped leaves
    the others possible.
    """

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="disputes")
    conflict = models.JSONField()
    # The same set of records is the same dispute, however often the book is recomputed.
    fingerprint = models.CharField(max_length=64)
    opened = models.ForeignKey(DaybookEntry, on_delete=models.PROTECT, related_name="disputes")
    closed = models.ForeignKey(
        DaybookEntry, on_delete=models.PROTECT, null=True, related_name="disputes_closed"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["fingerprint"],
                condition=models.Q(closed=None),
                name="dispute_open_once",
            )
        ]

    def __str__(self) -> str:
        return "; ".join(record["text"] for record in self.conflict)


class Standing(models.Model):
    """The probabilities of two, one and no copies, for one animal and trait, or one line of it.

    Without a line: over all lines of the trait (two copies: at one locus). No row: nothing in
    the book makes the animal a carrier. A chance of exactly 0 means that it cannot be.
    """

    animal = models.ForeignKey(Animal, on_delete=models.CASCADE, related_name="standings")
    trait = models.ForeignKey(Trait, on_delete=models.CASCADE, related_name="+")
    line = models.ForeignKey(Line, on_delete=models.CASCADE, null=True, related_name="+")
    two = models.FloatField()
    one = models.FloatField()
    none = models.FloatField()
    # Without a line: the chance that it carries copies at two different loci of the look.
    mixed = models.FloatField(default=0)
    # Half width of the 95 % interval; 0 where inference was exact.
    error = models.FloatField(default=0)
    # Words on animals of one purchase were weighed each by itself: together they were too much.
    apart = models.BooleanField(default=False)
    # From the parents, as they stand without it and its descendants, and its own look alone; for a
    # founder, what its source said.
    # None where that look is one that the parents by themselves cannot give.
    customary = models.FloatField(null=True)
    word = models.CharField(max_length=9, choices=Word.choices)
    # Hatchlings that could have shown the trait and did not.
    clean_young = models.PositiveIntegerField(default=0)
    # What a proof rests on: looks at hatchlings of its own that showed it, so many in so many
    # clutches. 0 where the word is none of proof.
    proof_looks = models.PositiveIntegerField(default=0)
    proof_young = models.PositiveIntegerField(default=0)
    proof_clutches = models.PositiveIntegerField(default=0)
    dispute = models.ForeignKey(
        Dispute, on_delete=models.SET_NULL, null=True, related_name="standings"
    )
    entry = models.ForeignKey(DaybookEntry, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["animal", "trait"],
                condition=models.Q(line=None),
                name="standing_once_by_trait",
            ),
            models.UniqueConstraint(
                fields=["animal", "trait", "line"],
                condition=~models.Q(line=None),
                name="standing_once_by_line",
            ),
        ]
        indexes = [
            # "Carries Saltgrass HAR with at least 50 %" reads this one alone.
            models.Index(fields=["trait", "line", "none"], name="standing_by_carrier"),
        ]

    def __str__(self) -> str:
        return f"{self.animal} {self.trait}: {self.get_word_display()}"

    @property
    def carries(self) -> float:
        """The probability of at least one copy."""
        return self.two + self.one if self.none else 1.0

    @property
    def is_disputed(self) -> bool:
        """Whether the figure depends on which of some conflicting records is wrong."""
        return self.dispute_id is not None


class Shows(models.Model):
    """The chance that an animal shows a look that combinations make.

    Such a look is a double form, a trait by combinations (`trait`) or a named look (`look`). No
    row: nothing in the book makes the animal show it. Exactly 1 is certain.
    """

    animal = models.ForeignKey(Animal, on_delete=models.CASCADE, related_name="shows")
    trait = models.ForeignKey(Trait, on_delete=models.CASCADE, null=True, related_name="+")
    look = models.ForeignKey(NamedLook, on_delete=models.CASCADE, null=True, related_name="+")
    chance = models.FloatField()
    # Half width of the 95 % interval; 0 where inference was exact.
    error = models.FloatField(default=0)
    disputed = models.BooleanField(default=False)
    # Of a look whose genes are worked out apart: the chance, error and dispute of each piece, by
    # its loci. Some pieces may be certain while the whole, by the others, has no chance.
    pieces = models.JSONField(default=dict, blank=True)
    entry = models.ForeignKey(DaybookEntry, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["animal", "trait"],
                condition=models.Q(look=None),
                name="shows_once_by_trait",
            ),
            models.UniqueConstraint(
                fields=["animal", "look"],
                condition=models.Q(trait=None),
                name="shows_once_by_look",
            ),
            models.CheckConstraint(
                condition=models.Q(look=None, trait__isnull=False)
                | models.Q(trait=None, look__isnull=False),
                name="shows_one_look",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.animal} shows {self.trait or self.look}: {self.chance}"


class Surprise(models.Model):
    """Evidence that is possible and was very unlikely: a look, a hatch or a test result.

    `chance` is that of what was recorded, or of what would have surprised more, given everything
    else in the book when it was entered.
    """

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="surprises")
    animal = models.ForeignKey(
        Animal, on_delete=models.CASCADE, null=True, related_name="surprises"
    )
    clutch = models.ForeignKey(
        Clutch, on_delete=models.CASCADE, null=True, related_name="surprises"
    )
    trait = models.ForeignKey(Trait, on_delete=models.CASCADE, related_name="+")
    line = models.ForeignKey(Line, on_delete=models.CASCADE, null=True, related_name="+")
    text = models.CharField(max_length=200)
    chance = models.FloatField()
    entry = models.ForeignKey(DaybookEntry, on_delete=models.PROTECT, related_name="surprises")
    # Looked at by the keeper: it is not pointed out any more.
    looked_at = models.ForeignKey(
        DaybookEntry, on_delete=models.PROTECT, null=True, related_name="surprises_looked_at"
    )

    class Meta:
        ordering = ["chance"]

    def __str__(self) -> str:
        return self.text


class StandingChange(models.Model):
    """How one entry in the daybook moved a standing; empty before: there was none."""

    entry = models.ForeignKey(
        DaybookEntry, on_delete=models.CASCADE, related_name="changes", db_index=False
    )
    animal = models.ForeignKey(Animal, on_delete=models.CASCADE, related_name="standing_changes")
    trait = models.ForeignKey(Trait, on_delete=models.CASCADE, related_name="+")
    line = models.ForeignKey(Line, on_delete=models.CASCADE, null=True, related_name="+")
    word_before = models.CharField(max_length=9, choices=Word.choices, blank=True)
    two_before = models.FloatField(null=True)
    none_before = models.FloatField(null=True)
    disputed_before = models.BooleanField(default=False)
    word = models.CharField(max_length=9, choices=Word.choices)
    two = models.FloatField()
    none = models.FloatField()
    disputed = models.BooleanField(default=False)

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["animal", "trait"], name="change_by_animal"),
            # How many animals an entry moved is counted in the index alone.
            models.Index(fields=["entry", "animal"], name="change_by_entry"),
        ]

    def __str__(self) -> str:
        return f"{self.animal} {self.trait}: {self.word_before or '–'} → {self.word}"


class ShowsChange(models.Model):
    """How one entry in the daybook moved what an animal shows; 0: it cannot, or nothing says so."""

    entry = models.ForeignKey(
        DaybookEntry, on_delete=models.CASCADE, related_name="changes_of_looks"
    )
    animal = models.ForeignKey(Animal, on_delete=models.CASCADE, related_name="changes_of_looks")
    trait = models.ForeignKey(Trait, on_delete=models.CASCADE, null=True, related_name="+")
    look = models.ForeignKey(NamedLook, on_delete=models.CASCADE, null=True, related_name="+")
    chance_before = models.FloatField(default=0)
    disputed_before = models.BooleanField(default=False)
    chance = models.FloatField(default=0)
    disputed = models.BooleanField(default=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(look=None, trait__isnull=False)
                | models.Q(trait=None, look__isnull=False),
                name="shows_change_one_look",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.animal} {self.trait or self.look}: {self.chance_before} → {self.chance}"
