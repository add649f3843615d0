"""Sale sheets: frozen as issued."""

from django.conf import settings
from django.db import models
from django.utils import timezone

from keeper.models.animals import Animal
from keeper.models.record import Record
from keeper.models.sources import Contact


class Sheet(Record):
    """A sheet as it was handed to a buyer. `content` is what it says, word for word."""

    number = models.PositiveIntegerField(unique=True)
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
        ordering = ["-number"]

    def __str__(self) -> str:
        return f"sheet {self.number}"
