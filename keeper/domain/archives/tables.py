"""Which tables and columns an archive holds: all of the project's, but for what is listed here.

Models are found by themselves, histories and the tables between two models among them. So a new
kind of record is in every archive from the day it is made.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from django.apps import apps
from django.contrib.contenttypes.models import ContentType
from django.db.models import Field, FileField, ForeignKey, Model

APP = "keeper"

_QUEUE = "django_tasks_db.DBTaskResult"


def _has_queue() -> bool:
    return apps.is_installed("django_tasks_db")


# Tables that stay behind, most of them of the libraries that a book runs on, each with the reason.
LEFT_OUT_TABLES: Mapping[str, str] = MappingProxyType(
    {
        "keeper.Book": "which life of a book it is; that which is read into has one of its own",
        "auth.Permission": "made by the program; the book asks only who is the owner",
        "auth.Group": "not used by the book",
        "auth.Group_permissions": "not used by the book",
        "contenttypes.ContentType": "made by the program; tables are named in words instead",
        "sessions.Session": "who is logged in on which device",
        "keeper.Job": "what goes on in the background just now; no part of the book",
        "keeper.LogIn": "who is logged in on which device",
        "keeper.SecondFactor": "a secret; whoever opens the archive turns it on anew",
        "keeper.RecoveryCode": "a secret, good only with the second factor that it is of",
        "keeper.Passkey": "bound to devices and a host name; whoever opens it makes new ones",
        "keeper.StockPage": "a public page made of other rows; whoever wants it makes it anew",
        "keeper.CalendarFeed": "a secret address; whoever wants it makes a new one",
        "keeper.Invitation": "links by which somebody may come into that book",
        "axes.AccessAttempt": "tries to log in, with addresses of devices",
        "axes.AccessAttemptExpiration": "tries to log in, with addresses of devices",
        "axes.AccessFailureLog": "tries to log in, with addresses of devices",
        "axes.AccessLog": "tries to log in, with addresses of devices",
    }
    | ({_QUEUE: "what is to be done next in the background"} if _has_queue() else {})
)
# Columns, each with the reason why it stays behind; `opening` says what comes in their place.
LEFT_OUT_COLUMNS: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("keeper.Account", "password"): "a secret: whoever opens the archive gives new ones",
        ("keeper.Account", "is_active"): (
            "helpers are let in anew by whoever opens the archive, one by one"
        ),
    }
)
# Rows that a book has before anything is entered. They give way to those of an archive; a row of
# any other table says that the book is not empty.
IN_AN_EMPTY_BOOK: Mapping[str, str] = MappingProxyType(
    {
        "keeper.Account": "the owner's own account",
        "keeper.HistoricalAccount": "how that account came to be",
    }
)


@dataclass(frozen=True)
class Table:
    """One table of an archive: its model and the columns that are in it."""

    model: type[Model]

    @property
    def name(self) -> str:
        """What it is called in an archive, such as `animal` or `historicalanimal`."""
        return str(self.model._meta.model_name)

    @property
    def columns(self) -> tuple["Field[Any, Any]", ...]:
        """Its columns, the key first."""
        return _columns(self.model)

    @property
    def left_out(self) -> tuple["Field[Any, Any]", ...]:
        """Its columns that stay behind."""
        taken = set(self.columns)
        return tuple(one for one in self.model._meta.concrete_fields if one not in taken)

    @property
    def record(self) -> type[Model] | None:
        """The model whose history this is, if it is one."""
        found: type[Model] | None = getattr(self.model, "instance_type", None)
        return found

    @property
    def of_files(self) -> tuple[str, ...]:
        """The columns that name files; in a history they are plain text."""
        of = self.record or self.model
        return tuple(
            one.name
            for one in of._meta.concrete_fields
            if isinstance(one, FileField) and one.name in {own.name for own in self.columns}
        )


def column_name(field: "Field[Any, Any]") -> str:
    """What a column is called in an archive: `dam_id` where it refers to a row."""
    return field.name if names_a_table(field) else str(field.attname)


def names_a_table(field: "Field[Any, Any]") -> bool:
    """Whether a column says which table something is in: a name, where the book keeps a number."""
    return isinstance(field, ForeignKey) and field.related_model is ContentType


def label(model: type[Model]) -> str:
    """The one name of a model, `keeper.Animal`."""
    return model._meta.label


@cache
def tables() -> tuple[Table, ...]:
    """Every table of an archive, what is referred to first as far as tables can be so ordered.

    Some refer to one another (an animal to its clutch, a clutch to its dam), so references can only
    be checked when all rows are there.
    """
    left = {table.model: table for table in sorted(_found(), key=lambda one: one.name)}
    ordered: list[Table] = []
    while left:
        free = [table for model, table in left.items() if not _targets(model) & set(left)]
        for table in free or [min(left.values(), key=lambda one: len(_targets(one.model)))]:
            ordered.append(table)
            del left[table.model]
    return tuple(ordered)


@cache
def by_name() -> Mapping[str, Table]:
    """Every table by its name."""
    return {table.name: table for table in tables()}


def _found() -> list[Table]:
    return [
        Table(model)
        for model in apps.get_models(include_auto_created=True)
        if label(model) not in LEFT_OUT_TABLES and model._meta.managed
    ]


def _targets(model: type[Model]) -> set[type[Model]]:
    """The other tables that a table refers to."""
    return {
        field.related_model
        for field in model._meta.concrete_fields
        if isinstance(field, ForeignKey) and field.related_model is not model
    }


@cache
def _columns(model: type[Model]) -> tuple["Field[Any, Any]", ...]:
    fields = [
        field
        for field in model._meta.concrete_fields
        if (label(model), field.name) not in LEFT_OUT_COLUMNS
    ]
    return tuple(sorted(fields, key=lambda field: not field.primary_key))
