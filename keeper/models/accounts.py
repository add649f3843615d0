"""Who may log in: the owner and the helpers; and what each of them wants to see again."""

import unicodedata
from typing import Any, ClassVar

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.validators import RegexValidator
from django.db import models
from django.db.models.functions import Lower
from simple_history.models import HistoricalRecords

from keeper.models.plain_text import PlainText


def login_name(name: str) -> str:
    """Return the one spelling under which a name logs in: case and spacing do not matter."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


class Role(models.TextChoices):
    """What an account may do; `keeper.access` says what follows."""

    OWNER = "owner", "Owner"
    HELPER = "helper", "Helper"


class AccountManager(BaseUserManager["Account"]):
    """Accounts, found by name however it is typed."""

    def get_by_natural_key(self, username: str | None) -> "Account":
        """Return the account of that name."""
        return self.get(login_name=login_name(username or ""))


class Account(PlainText, AbstractBaseUser):
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
    role = models.CharField(max_length=10, choices=Role.choices, default=Role.HELPER)
    is_active = models.BooleanField(default=True)
    joined = models.DateTimeField(auto_now_add=True)
    # Not kept: when somebody was here last is nobody's business, and each log-in would be a write.
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
