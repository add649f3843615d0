"""Sale sheets: frozen as issued."""

from django.conf import settings
from django.db import models
from django.utils import timezone

from keeper.models.animals import Animal
from keeper.models.record import Record
from keeper.models.sources import Contact


class Sheet(Record):
    """A sheet as it was handed to a buyer. `content` is what it says, word for word."""

    # Numbers of one series; a restored book begins another, so that none is given twice.
    series = models.CharField(max_length=8, blank=True, editable=False)
    number = models.PositiveIntegerField()
    # Typed by a buyer to check the sheet against the book.
    code = models.CharField(max_length=12, unique=True)
    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="sheets")
    buyer = models.ForeignKey(
        Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="sheets"
    )
    issued_at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    content = models.JSONField()

    class Meta:
        ordering = ["-number", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["series", "number"], name="sheet_number_once")
        ]

    def __str__(self) -> str:
        return f"sheet {self.numbered}"

    @property
    def numbered(self) -> str:
        """The number as it is printed, with its series if it has one."""
        return f"{self.series}-{self.number}" if self.series else str(self.number)
