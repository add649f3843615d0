"""What every record of the book has: a history, and a way to be withdrawn and restored."""

from collections.abc import Collection, Mapping
from datetime import date
from functools import cache
from types import MappingProxyType
from typing import Any, ClassVar, Self

from django.db import models
from simple_history.manager import HistoryManager
from simple_history.models import HistoricalRecords

from keeper.models.plain_text import PlainText


def live_unique(*expressions: Any, name: str, message: str = "") -> models.UniqueConstraint:
    """Let a value be used once among the records that count; a withdrawn one frees it."""
    return models.UniqueConstraint(
        *(models.F(one) if isinstance(one, str) else one for one in expressions),
        condition=models.Q(withdrawn_at=None),
        name=name,
        violation_error_message=message
        or ("There is one like this already. Change that one instead."),
    )


class Records(models.QuerySet[Any]):
    """Records, those that are withdrawn among them."""

    def live(self) -> Self:
        """Leave out what was withdrawn."""
        return self.filter(withdrawn_at=None)

    def withdrawn(self) -> Self:
        """Keep only what was withdrawn."""
        return self.exclude(withdrawn_at=None)


RecordManager = models.Manager.from_queryset(Records)


class RowsOfHistory(HistoryManager):  # type: ignore[misc]  # the library is untyped
    """The rows of a record's history; the library makes this class anew at every access."""

    @classmethod
    @cache
    def from_queryset(cls, *named: Any) -> Any:
        """Return the class for a queryset, made once."""
        return super().from_queryset(*named)


class Record(PlainText):
    """A row that people enter.

    Nothing is deleted: a record that was wrong is withdrawn with a reason and can be restored.
    Rows are written through `keeper.domain.book.writing` alone, which keeps who did it and why.
    """

    withdrawn_at = models.DateTimeField(null=True, blank=True, editable=False)
    withdrawn_reason = models.CharField(max_length=200, blank=True, editable=False)

    objects = RecordManager()
    history = HistoricalRecords(
        inherit=True,
        m2m_fields_model_field_name="_history_m2m_fields",
        history_manager=RowsOfHistory,
    )

    # Column → value as the row was read; empty for a record that was made in memory.
    as_read: Mapping[str, Any] = MappingProxyType({})

    # The fields that say on which day happened what a record tells of.
    event_days: ClassVar[tuple[str, ...]] = ()
    # Names of many-to-many fields whose history is kept as well.
    _history_m2m_fields: ClassVar[list[str]] = []

    class Meta:
        abstract = True

    def get_constraints(self) -> list[Any]:
        """What is validated in Python: not a field's choices again, each of which is a query."""
        return [
            (model, [one for one in listed if not one.name.endswith("_known")])
            for model, listed in super().get_constraints()
        ]

    @classmethod
    def from_db(
        cls, db: str | None, field_names: Collection[str], values: Collection[Any], **more: Any
    ) -> Self:
        """Make a record of a row, and note what was read: saving tells by it what was changed."""
        record = super().from_db(db, field_names, values, **more)
        record.as_read = dict(zip(field_names, values, strict=True))
        return record

    def refresh_from_db(self, *args: Any, **kwargs: Any) -> None:
        """Read the row again, what was read noted anew."""
        super().refresh_from_db(*args, **kwargs)
        self.note_as_read()

    def note_as_read(self) -> None:
        """Take the values in memory for those of the row."""
        self.as_read = {
            field.attname: self.__dict__[field.attname]
            for field in self._meta.concrete_fields
            if field.attname in self.__dict__
        }

    def fill_in(self) -> None:
        """Set the fields that follow from others; done with every save."""

    def happened_on(self, before: Self | None = None) -> date | None:
        """Return the day of what happened, by what is new since `before`; None: not known.

        A day that was corrected is no event of that day.
        """
        values = self.__dict__
        new = [
            values[name]
            for name in self.event_days
            if values[name] is not None and (before is None or before.__dict__[name] is None)
        ]
        return max(new, default=None)

    @property
    def is_withdrawn(self) -> bool:
        """Whether the record no longer counts."""
        return self.withdrawn_at is not None
