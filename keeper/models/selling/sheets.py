"""Sale sheets, frozen and signed as issued; the keys that signed them; who was told what since."""

from django.conf import settings
from django.db import models
from django.utils import timezone

from keeper.models.animals import Animal
from keeper.models.daybook import DaybookEntry
from keeper.models.record import Record
from keeper.models.sources import Contact


class Ended(models.TextChoices):
    """How the time of a key ended."""

    CHANGED = "changed", "changed for another"
    LOST = "lost", "lost"
    TAKEN = "taken", "in other hands"


class SigningKey(models.Model):
    """The public half of a key that signs sheets; the other half is a file (`sheets/keys.py`).

    A row stays for ever, so that what it signed can be checked for ever.
    """

    public = models.BinaryField(max_length=32, help_text="The public key, Ed25519, 32 bytes.")
    fingerprint = models.CharField(
        max_length=32, unique=True, help_text="The first half of the key's SHA-256, in hex."
    )
    since = models.DateTimeField(default=timezone.now, help_text="When it began to sign.")
    ended_at = models.DateTimeField(null=True, help_text="Until when it signed; empty: it does.")
    ended_as = models.CharField(
        max_length=7,
        blank=True,
        choices=Ended.choices,
        help_text="Changed for another, lost, or in other hands; empty: it signs.",
    )
    why = models.CharField(max_length=200, blank=True, help_text="Why it ended.")

    class Meta:
        ordering = ["-since", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["ended_as"], condition=models.Q(ended_as=""), name="signing_key_one_signs"
            ),
            models.CheckConstraint(
                condition=models.Q(ended_as="", ended_at=None)
                | (models.Q(ended_as__in=Ended.values) & models.Q(ended_at__isnull=False)),
                name="signing_key_ended_known",
            ),
        ]

    def __str__(self) -> str:
        return grouped(self.fingerprint)


class Sheet(Record):
    """A sheet as it was handed to a buyer. `content` is what it says, word for word.

    About persons are `buyer`, `content` and `salt` (and their history), and nothing else: `signed`
    tells of nobody, so that it can be shown to anybody and outlives an erasure.
    """

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
    # Of a sheet that was issued before sheets were signed all of these are empty.
    page_code = models.CharField(
        max_length=32,
        unique=True,
        null=True,
        editable=False,
        help_text="What its public page is called; nobody can guess it.",
    )
    signed = models.BinaryField(
        null=True, help_text="What was signed, byte for byte: JSON that names no person."
    )
    digest = models.CharField(
        max_length=64, blank=True, editable=False, help_text="SHA-256 of what was signed, in hex."
    )
    signature = models.BinaryField(null=True, help_text="Ed25519, 64 bytes.")
    key = models.ForeignKey(
        SigningKey,
        on_delete=models.PROTECT,
        null=True,
        editable=False,
        related_name="sheets",
        help_text="The key that signed it.",
    )
    salt = models.CharField(
        max_length=64,
        blank=True,
        editable=False,
        help_text="Random; with it the digests in what was signed can be made again.",
    )

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


def grouped(fingerprint: str) -> str:
    """Return a fingerprint as it is read aloud: eight groups of four.

    >>> grouped("00112233445566778899aabbccddeeff")
    '0011 2233 4455 6677 8899 aabb ccdd eeff'
    """
    return " ".join(fingerprint[at : at + 4] for at in range(0, len(fingerprint), 4))


class How(models.TextChoices):
    """In what way somebody was told; or that it is done without."""

    MESSAGE = "message", "by message"
    CALL = "call", "by telephone"
    TALK = "talk", "in person"
    LETTER = "letter", "by letter"
    SHEET = "sheet", "by a new sheet"
    NOT = "not", "not told: they cannot be reached"


class Told(Record):
    """That the holder of a sheet was told what the book says otherwise since.

    About persons are `message` and `note`.
    """

    sheet = models.ForeignKey(
        Sheet, on_delete=models.PROTECT, related_name="told", help_text="Whose sheet it is about."
    )
    on = models.DateField(default=timezone.localdate, help_text="On which day.")
    how = models.CharField(
        max_length=7, choices=How.choices, help_text="In what way; or that nobody can be reached."
    )
    message = models.TextField(blank=True, help_text="What they were told, word for word.")
    note = models.CharField(max_length=200, blank=True, help_text="What they said, or why not.")
    said = models.JSONField(
        default=list, help_text="What differed: gene, how, what was said then, and now."
    )
    upto = models.ForeignKey(
        DaybookEntry,
        on_delete=models.PROTECT,
        editable=False,
        related_name="+",
        help_text="The last entry that bears on what they were told.",
    )

    class Meta:
        ordering = ["-on", "-pk"]
        verbose_name_plural = "told"
        constraints = [
            models.CheckConstraint(condition=models.Q(how__in=How.values), name="told_how_known")
        ]

    def __str__(self) -> str:
        how = self.get_how_display()
        return f"{self.sheet}: {how if self.how == How.NOT else f'told {how}'}"
