"""Signed papers of other books, kept as they came."""

import base64

from django.db import models

from keeper.models.animals import Animal
from keeper.models.record import Record, live_unique
from keeper.models.sources import Contact


class Brings(models.TextChoices):
    """What a signed paper brought into this book."""

    ANIMAL = "animal", "an animal with its papers"
    RESULTS = "results", "what an animal of this book bred elsewhere"


class SignedPaper(Record):
    """A record that another book signed, as it came: word of whoever signed it, never proof here.

    `signed` is emptied where the signer is erased; what the paper brought stays.
    """

    source = models.ForeignKey(
        Contact,
        on_delete=models.PROTECT,
        related_name="signed_papers",
        help_text="Whose book signed it; their word counts so far.",
    )
    animal = models.ForeignKey(
        Animal,
        on_delete=models.PROTECT,
        related_name="signed_papers",
        help_text="Of which animal of this book it tells.",
    )
    brings = models.CharField(
        max_length=7, choices=Brings.choices, help_text="An animal, or what it bred elsewhere."
    )
    signed = models.TextField(
        blank=True, editable=False, help_text="What was signed, byte for byte, in Base64."
    )
    signature = models.CharField(
        max_length=88, editable=False, help_text="Ed25519 over these bytes, in Base64."
    )
    public = models.CharField(
        max_length=44, editable=False, help_text="The public key of the signer, in Base64."
    )
    fingerprint = models.CharField(
        max_length=32, editable=False, help_text="What that key is called."
    )
    digest = models.CharField(
        max_length=64, editable=False, help_text="SHA-256 of what was signed, in hex."
    )
    on = models.DateField(help_text="When it was brought in.")

    event_days = ("on",)

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            live_unique(
                "digest",
                name="signed_paper_once",
                message="This paper is in the book already. Look at its animal's page.",
            ),
            models.CheckConstraint(
                condition=models.Q(brings__in=Brings.values), name="signed_paper_brings_known"
            ),
        ]

    def __str__(self) -> str:
        return f"signed paper of {self.source} on {self.animal}"

    @property
    def signed_bytes(self) -> bytes:
        """What was signed; nothing once the signer was erased."""
        return base64.b64decode(self.signed)
