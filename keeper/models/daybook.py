"""The book itself, and its daybook: one entry for each thing done, and the records it touched.

And imports: tables of animals that are each to become one entry. They are no evidence: a row only
remembers what was picked, asked and mended so far. And jobs: what goes on in the background.
"""

import json
import secrets
import zlib
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.db import models
from django.db.models import Q
from django.utils import timezone

from keeper.discretion import without_names

# No letters or figures that can be mistaken for one another on paper.
_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
_MARK = 4


def new_epoch() -> str:
    """Return a name for a life of the book: 128 random bits."""
    return secrets.token_hex(16)


def mark_of(epoch: str) -> str:
    """Return what stands for an epoch in a sheet's number: four letters that it alone decides."""
    number = int(epoch, 16)
    letters = []
    for _ in range(_MARK):
        number, rest = divmod(number, len(_LETTERS))
        letters.append(_LETTERS[rest])
    return "".join(letters)


class Book(models.Model):
    """One row. Its epoch is new after every restore: what was made before is told by that."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    epoch = models.CharField(max_length=32, default=new_epoch, editable=False)
    # Empty: it was never restored, and this is its first life.
    restored_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, editable=False
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="book_once")]

    def __str__(self) -> str:
        return self.epoch

    @property
    def series(self) -> str:
        """What stands before the numbers of sheets; nothing in the book's first life."""
        return mark_of(self.epoch) if self.restored_at else ""


class DaybookEntry(models.Model):
    """Something that was done in one go: who, when, what, and on which record."""

    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="entries"
    )
    # The day that it tells of, where its records agree on one; `at` is when it was typed.
    day: "models.DateField[date | None, date | None]" = models.DateField(null=True, editable=False)
    what = models.CharField(max_length=200)
    reason = models.CharField(max_length=200, blank=True)
    # What the book asked of it, and whoever wrote it insisted on: a sentence a line.
    insisted = models.TextField(blank=True)
    subject_type = models.ForeignKey(
        ContentType, on_delete=models.PROTECT, null=True, related_name="+"
    )
    subject_id = models.BigIntegerField(null=True)
    # The entry that took this one back; one such entry may take back several.
    undone_by = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, related_name="undoes"
    )
    # Of the form that asked for it, so that no form is written twice. It never expires.
    token = models.CharField(max_length=32, null=True, unique=True, editable=False)

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "daybook entries"
        indexes = [
            models.Index(fields=["subject_type", "subject_id"], name="entry_by_subject"),
            # The journal is narrowed by days, and read from its newest page.
            models.Index(fields=["at"], name="entry_by_time"),
        ]

    def __str__(self) -> str:
        return self.told

    @property
    def told(self) -> str:
        """What was done, as the reader may know it."""
        return without_names(self.what)

    @property
    def late_of(self) -> date | None:
        """The day that it is about, where that is another than the day on which it was typed."""
        return self.day if self.day != timezone.localdate(self.at) else None

    @property
    def why(self) -> str:
        """The reason, as the reader may know it."""
        return without_names(self.reason)

    @property
    def insisted_told(self) -> str:
        """What was insisted on, as the reader may know it."""
        return without_names(self.insisted)


class Touch(models.Model):
    """A record that an entry made or changed, with its row in the record's own history."""

    entry = models.ForeignKey(DaybookEntry, on_delete=models.CASCADE, related_name="touches")
    record_type = models.ForeignKey(ContentType, on_delete=models.PROTECT, related_name="+")
    record_id = models.BigIntegerField()
    history_id = models.BigIntegerField()
    created = models.BooleanField()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["record_type", "record_id"], name="touch_by_record")]

    def __str__(self) -> str:
        return f"{self.record_type} {self.record_id}"


class Stage(models.TextChoices):
    """How far an import is. Taken back is one whose entry was undone."""

    COLUMNS = "columns", "its columns are being picked"
    CHECKED = "checked", "being checked"
    WRITING = "writing", "being written"
    DONE = "done", "brought in"
    FAILED = "failed", "nothing was written"


class Import(models.Model):
    """A file with a table of animals, and everything that was decided about it so far."""

    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="imports"
    )
    name = models.CharField(max_length=120)
    file = models.FileField(upload_to="imports/%Y", max_length=200)
    begun = models.DateTimeField(auto_now_add=True)
    stage = models.CharField(max_length=8, choices=Stage.choices, default=Stage.COLUMNS)
    # Counts every change, so that a page made from an older state is noticed.
    version = models.PositiveIntegerField(default=0)
    sheets = models.JSONField(default=list)
    sheet = models.CharField(max_length=120, blank=True)
    # The sheet's cells as texts, compressed; read once, because opening a workbook is slow.
    table = models.BinaryField(default=bytes)
    notes = models.JSONField(default=list)
    # The first row of the heads and how many there are; 0 rows: the table has no heads.
    head_row = models.PositiveIntegerField(default=0)
    head_rows = models.PositiveSmallIntegerField(default=1)
    # The heads as read, one a column, and what each column means.
    heads = models.JSONField(default=list)
    picks = models.JSONField(default=list)
    # Species, order of days, unit of weight and what the keeper ticked.
    choices = models.JSONField(default=dict)
    # Question → answer; row → column → text; rows that are left out.
    answers = models.JSONField(default=dict)
    mended = models.JSONField(default=dict)
    left_out = models.JSONField(default=list)
    # Of the dry run that was to be written, and of the process that writes.
    seen = models.CharField(max_length=32, blank=True)
    process = models.CharField(max_length=64, blank=True)
    problem = models.TextField(blank=True)
    entry = models.ForeignKey(
        DaybookEntry, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(stage__in=Stage.values), name="import_stage_known"
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_over(self) -> bool:
        """Whether it was brought in and counts: nothing of it can be changed any more."""
        return self.stage == Stage.DONE and not self.is_taken_back

    @property
    def is_open(self) -> bool:
        """Whether its rows can be looked through, mended and written."""
        return self.stage in {Stage.CHECKED, Stage.FAILED} or self.is_taken_back

    @property
    def is_taken_back(self) -> bool:
        """Whether what it brought in was undone."""
        return self.entry is not None and self.entry.undone_by_id is not None

    def rows(self) -> list[list[str]]:
        """Return the sheet's cells."""
        if not self.table:
            return []
        found: list[list[str]] = json.loads(zlib.decompress(bytes(self.table)))
        return found

    def keep_rows(self, rows: Any) -> None:
        """Take these for the sheet's cells."""
        self.table = zlib.compress(json.dumps(rows).encode(), 3)


class JobState(models.TextChoices):
    """How far a job has come."""

    WAITING = "waiting", "waiting"
    RUNNING = "running", "running"
    DONE = "done", "done"
    FAILED = "failed", "not done"


UNDER_WAY = (JobState.WAITING, JobState.RUNNING)


class Job(models.Model):
    """One piece of work in the background. No part of the book: it may be thrown away."""

    # What is done, by its name in `domain/background/kinds.py`, and to what of it.
    kind = models.CharField(max_length=20)
    about = models.CharField(max_length=120, blank=True)
    given = models.JSONField(default=dict)
    state = models.CharField(max_length=8, choices=JobState.choices, default=JobState.WAITING)
    # How far it is; of 0: nobody can tell.
    doing = models.CharField(max_length=120, blank=True)
    done = models.PositiveIntegerField(default=0)
    of = models.PositiveIntegerField(default=0)
    # What came of it, or what was found so far.
    found = models.JSONField(default=dict)
    problem = models.TextField(blank=True)
    begun_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(state__in=JobState.values), name="job_state_known"
            ),
            models.UniqueConstraint(
                fields=["kind", "about"],
                condition=models.Q(state__in=[one.value for one in UNDER_WAY]),
                name="job_under_way_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.about}".strip()

    @property
    def is_under_way(self) -> bool:
        """Whether it has not ended, as far as this row says."""
        return self.state in UNDER_WAY
