"""Views of the collection that somebody wants to see again."""

from django.conf import settings
from django.db import models
from django.db.models.functions import Lower


class SavedView(models.Model):
    """A name for the filters in an address. Not evidence, so it may simply be taken away."""

    account = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="saved_views"
    )
    name = models.CharField(max_length=60)
    query = models.CharField(max_length=1000, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint("account", Lower("name"), name="saved_view_once")]

    def __str__(self) -> str:
        return self.name
