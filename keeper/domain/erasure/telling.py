"""All that the book holds of a person, for them to have: one ZIP file.

`person.json` has, by the tables, what stands in the rows about the person and where else they are
named; `scans/` has the scans of their papers.
"""

import json
import shutil
import zipfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import PurePosixPath
from typing import IO, Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Model, QuerySet

from keeper.domain.erasure import files, searching
from keeper.domain.erasure.person import person_of
from keeper.models import (
    Animal,
    Contact,
    PairWord,
    Paper,
    Prospect,
    Sale,
    Sheet,
    SignedPaper,
    Statement,
    Told,
)
from keeper.serving import files as stored

_ABOUT: dict[str, tuple[type[Model], str, tuple[str, ...]]] = {
    "animals_from_them": (Animal, "source", ("code", "acquired_on", "status")),
    "papers": (Paper, "source", ("animal__code", "dated", "says", "withdrawn_at")),
    "signed_papers": (
        SignedPaper, "source", ("animal__code", "brings", "on", "fingerprint", "signed"),
    ),
    "statements": (
        Statement, "source",
        ("animal__code", "trait__name", "line__code", "claim", "chance", "on", "withdrawn_at"),
    ),
    "words_on_lines": (PairWord, "source", ("one__code", "other__code", "one_gene", "on", "says")),
    "offers": (Prospect, "source", ("name", "where", "seen_on", "asked", "says", "notes")),
    "sheets_to_them": (Sheet, "buyer", ("series", "number", "issued_at", "content")),
    "sales_to_them": (
        Sale, "buyer",
        (
            *("animal__code", "price", "deposit", "currency", "held_on", "held_until"),
            *("sold_on", "handed_on", "ended_on", "ended_as", "note", "sold_as", "withdrawn_at"),
        ),
    ),
    "told_of_sheets": (Told, "sheet__buyer", ("sheet__number", "on", "how", "message", "note")),
}  # fmt: skip


def write_out(contact: Contact, into: IO[bytes]) -> None:
    """Write all of it into a file."""
    person = person_of(contact)
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as packed:
        said = json.dumps(_said(contact), cls=_Plain, ensure_ascii=False, indent=1)
        packed.writestr("person.json", said)
        for name in files.scans_of(person):
            with (
                suppress(FileNotFoundError),
                stored.opened(name) as scan,
                packed.open(f"scans/{PurePosixPath(name).name}", "w") as into_it,
            ):
                shutil.copyfileobj(scan, into_it)


class _Plain(DjangoJSONEncoder):
    """Chances are fractions; they are written as people write them."""

    def default(self, o: Any) -> Any:
        """Return what JSON can hold."""
        return str(o) if hasattr(o, "numerator") else super().default(o)


def _said(contact: Contact) -> dict[str, Any]:
    own = ("name", "reach", "reliability", "notes", "kept_until", "kept_why", "withdrawn_at")
    said: dict[str, Any] = {
        "contact": [_row(contact, own)],
        "contact_before": list(contact.history.values("history_date", *own)),
    }
    for name, (model, by, columns) in _ABOUT.items():
        rows: QuerySet[Any] = model._base_manager.filter(**{by: contact})
        said[name] = list(rows.order_by("pk").values(*columns))
    said["named_elsewhere"] = list(_elsewhere(contact))
    return said


def _row(record: Contact, columns: tuple[str, ...]) -> dict[str, Any]:
    return {name: getattr(record, name) for name in columns}


def _elsewhere(contact: Contact) -> Iterator[dict[str, Any]]:
    """Texts in which the person is named: of which table, in which column, and the text."""
    for place in searching.places(person_of(contact)):
        own = place.model in (Contact, Contact.history.model)
        if not own and place.column != searching.SALT:
            row = place.model._base_manager.filter(pk=place.pk).values_list(place.column, flat=True)
            yield {"table": place.model._meta.label, "column": place.column, "text": row[0]}
