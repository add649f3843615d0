"""Who may log in: the owner, helpers and viewers; how, and what each wants to see again."""

import unicodedata
from datetime import datetime
from typing import Any, ClassVar

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.sessions.base_session import AbstractBaseSession
from django.core.validators import RegexValidator
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone
from simple_history.models import HistoricalRecords

from keeper.models.plain_text import PlainText


def login_name(name: str) -> str:
    """Return the one spelling under which a name logs in: case and spacing do not matter."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


class Role(models.TextChoices):
    """What an account may do; `keeper.access` says what follows."""

    OWNER = "owner", "Owner"
    HELPER = "helper", "Helper"
    VIEWER = "viewer", "Viewer"


class AccountManager(BaseUserManager["Account"]):
    """Accounts, found by name however it is typed."""

    def get_by_natural_key(self, username: str | None) -> "Account":
        """Return the account of that name."""
        return self.get(login_name=login_name(username or ""))


class Allowed(models.Model):
    """What somebody may do and see; asked of the account, and chosen with an invitation."""

    role = models.CharField(max_length=10, choices=Role.choices, default=Role.HELPER)
    # Off unless the owner allows it: most work with animals needs neither.
    sees_people = models.BooleanField(default=False)
    sees_prices = models.BooleanField(default=False)

    class Meta:
        abstract = True


class Account(PlainText, Allowed, AbstractBaseUser):
    """A person who may log in."""

    name = models.CharField(
        max_length=40,
        validators=[
            RegexValidator(
                r"^\w[\w.'@+ -]*$", "Use letters, figures, spaces and . ' @ + - _ in a name."
            )
        ],
    )
    # Kept apart from the name because SQLite can compare only plain letters without case.
    login_name = models.CharField(max_length=80, unique=True, editable=False)
    # Printed on what this person issues, and shown on its public page.
    reach = models.CharField(
        max_length=200, blank=True, help_text="How buyers reach them, as their sheets say it."
    )
    is_active = models.BooleanField(default=True)
    joined = models.DateTimeField(auto_now_add=True)
    # Not kept: when somebody was here last is nobody's business once they are out. Of a log-in that
    # is open it is known, coarsely and as long as it is open (`LogIn`).
    last_login = None

    objects: ClassVar[AccountManager] = AccountManager()
    history = HistoricalRecords(excluded_fields=["password"])

    USERNAME_FIELD = "login_name"

    class Meta:
        constraints = [
            # A book has one owner: set-up can then happen once only, however many try at once.
            models.UniqueConstraint(
                fields=["role"], condition=models.Q(role="owner"), name="account_one_owner"
            ),
            models.CheckConstraint(
                condition=models.Q(role__in=Role.values), name="account_role_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save with the log-in name that follows from the name."""
        self.login_name = login_name(self.name)
        super().save(*args, **kwargs)

    @property
    def is_owner(self) -> bool:
        """Whether this is the owner's account."""
        return self.role == Role.OWNER

    @property
    def may_write(self) -> bool:
        """Whether the account may write in the book."""
        return self.role != Role.VIEWER

    @property
    def may_see_people(self) -> bool:
        """Whether sources, buyers and sellers are shown."""
        return self.is_owner or self.sees_people

    @property
    def may_see_prices(self) -> bool:
        """Whether prices are shown."""
        return self.is_owner or self.sees_prices


class Invitation(Allowed):
    """A link by which somebody makes an account of their own. Its token is kept as a digest."""

    digest = models.CharField(max_length=64, unique=True, editable=False)
    meant_for = models.CharField(max_length=60, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="invitations"
    )
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    ends_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, editable=False)
    taken_by = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, null=True, related_name="invited_by"
    )

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            # The owner is made by the set-up alone.
            models.CheckConstraint(
                condition=models.Q(role__in=[Role.HELPER, Role.VIEWER]), name="invitation_role"
            )
        ]

    def __str__(self) -> str:
        return f"invitation of a {self.get_role_display().lower()}"

    def is_open(self, now: datetime) -> bool:
        """Whether somebody may still come by it."""
        return self.taken_by_id is None and self.withdrawn_at is None and now < self.ends_at


class SecondFactor(models.Model):
    """What an account shows beside its password: the codes of an app, made from a secret.

    `secret` is encrypted by a key outside the database (`keeper.domain.accounts.sealing`).
    """

    account = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="second_factor"
    )
    secret = models.TextField(editable=False)
    since = models.DateTimeField(default=timezone.now, editable=False)
    # The last step of 30 s whose code was used; neither it nor an earlier one is taken again.
    last_step = models.BigIntegerField(default=0, editable=False)

    def __str__(self) -> str:
        return f"second factor of {self.account}"


class RecoveryCode(models.Model):
    """A code for whoever has lost the app; a row goes when its code was used."""

    account = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="recovery_codes"
    )
    # Keyed by the same key outside the database: of the database alone no code can be guessed.
    digest = models.CharField(max_length=64, editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["account", "digest"], name="recovery_code_once")
        ]

    def __str__(self) -> str:
        return f"recovery code of {self.account}"


class Passkey(PlainText):
    """The public half of a key that a device of somebody keeps, for one host name of the book.

    Whoever has the database alone lets nobody in with it: the other half never leaves the device.
    """

    account = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="passkeys"
    )
    name = models.CharField(max_length=40)
    # The name that a browser binds it to; under another name of the book it is never asked for.
    host = models.CharField(max_length=253, editable=False)
    # As the standard says, in Base64 for addresses: up to 1023 bytes.
    credential = models.CharField(max_length=1364, unique=True, editable=False)
    public = models.TextField(editable=False)
    # Drawn at random, one for all of an account: by it a device knows whose its keys are.
    handle = models.CharField(max_length=86, editable=False)
    # How the device is reached, in the standard's words with commas: a hint for the browser.
    reached_by = models.CharField(max_length=100, blank=True, editable=False)
    # How often the device says that it was used; those that keep no count say 0.
    count = models.BigIntegerField(default=0, editable=False)
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    last_used_on = models.DateField(null=True, editable=False)
    # Since its counter went back once, as that of a copy does, it is not taken any more.
    went_back_on = models.DateField(null=True, editable=False)

    class Meta:
        ordering = ["made_at", "pk"]
        constraints = [
            models.UniqueConstraint("account", "host", Lower("name"), name="passkey_name_once")
        ]

    def __str__(self) -> str:
        return self.name


class LogIn(AbstractBaseSession):
    """A browser that is logged in, or is about to: Django's session, with whose it is.

    Since when, from where and when last seen stand in the session itself: they go with it.
    """

    # Not bound to the account's row, as Django's own sessions are not: opening an archive replaces
    # the owner's account by one of the same number, and whoever does it stays logged in.
    account = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.DO_NOTHING,
        null=True,
        db_constraint=False,
        related_name="log_ins",
    )

    class Meta(AbstractBaseSession.Meta):
        verbose_name = "log-in"

    @classmethod
    def get_session_store_class(cls) -> Any:
        """Return the class that keeps these; it imports this model, so it is imported late."""
        from keeper.sessions import SessionStore

        return SessionStore


class SavedView(PlainText):
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
