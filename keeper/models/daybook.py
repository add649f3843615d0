"""The daybook: one entry for each thing that somebody did, and the records it touched."""

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.db import models
from django.utils import timezone


class DaybookEntry(models.Model):
    """Something that was done in one go: who, when, what, and on which record."""

    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="entries"
    )
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
        indexes = [models.Index(fields=["subject_type", "subject_id"], name="entry_by_subject")]

    def __str__(self) -> str:
        return self.what


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
