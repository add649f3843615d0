"""Where a person stands in the rows of the book, and what stands there afterwards."""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Field, JSONField, Model, Q

from keeper.domain.erasure.columns import named_in_the_register, searched
from keeper.domain.erasure.person import Person
from keeper.models import Contact, PairWord, Paper, Prospect, Sheet, SignedPaper, Told

# The column of a sheet that is emptied though nothing about the person stands in it.
SALT = "salt"
# What was written down about a person or in their words: all of it goes, whatever it says.
_PRIVATE: tuple[tuple[type[Model], str, tuple[str, ...]], ...] = (
    (Contact, "id", ("reach", "notes", "kept_why")),
    (Paper, "source_id", ("says",)),
    (SignedPaper, "source_id", ("signed",)),
    (PairWord, "source_id", ("says", "signed")),
    (Prospect, "source_id", ("where", "says", "notes", "asked")),
    (Told, "sheet__buyer_id", ("message", "note")),
)


@dataclass(frozen=True)
class Place:
    """A column of a row that holds something of a person, and what it is to hold."""

    model: type[Model]
    pk: Any
    column: str
    after: Any

    def write(self) -> None:
        """Write it, past the history: that would keep what goes."""
        row = self.model._base_manager.filter(pk=self.pk)
        try:
            with transaction.atomic():
                row.update(**{self.column: self.after})
        except IntegrityError:  # two things of one keeper that were called after the person
            row.update(**{self.column: f"{self.after} {self.pk}"})


def places(person: Person) -> Iterator[Place]:
    """Every place of a person in the rows, each once."""
    seen = set()
    named = list(_named(person))
    for one in (*_private(person), *named, *_salts(person, named)):
        if (key := (one.model, one.pk, one.column)) not in seen:
            seen.add(key)
            yield one


def left_in_the_register(person: Person) -> list[str]:
    """Names of things in which the person's name stands; they stay."""
    return sorted(
        {
            str(text)
            for model, field in named_in_the_register()
            for _, text in _with_words(model, field, person.looked_for)
            if person.is_in(str(text))
        }
    )


def partly_named(person: Person) -> list[str]:
    """Texts in which a part of the name is left; nobody can tell whether the person is meant."""
    return sorted(
        {
            text
            for model, field in searched()
            if not (isinstance(field, JSONField) or hasattr(model, "instance_type"))
            for pk, text in _with_words(model, field, person.parts)
            if person.is_partly_in(text) and (model, pk) != (Contact, person.pk)
        }
    )


def _private(person: Person) -> Iterator[Place]:
    for record, by, columns in _PRIVATE:
        for model in (record, record.history.model):  # type: ignore[attr-defined]
            for column in columns:
                rows = model._base_manager.filter(**{by: person.pk}).exclude(**{column: ""})
                for pk in rows.values_list("pk", flat=True):
                    yield Place(model, pk, column, "")
    for model in (Contact, Contact.history.model):
        rows = model._base_manager.filter(id=person.pk).exclude(name=person.called)
        for pk in rows.values_list("pk", flat=True):
            yield Place(model, pk, "name", person.called)


def _named(person: Person) -> Iterator[Place]:
    for model, field in searched():
        for pk, value in _with_words(model, field, person.looked_for):
            after = _out_of(person, value)
            if after != value:
                if isinstance(after, str) and field.max_length:
                    after = after[: field.max_length]
                yield Place(model, pk, field.name, after)


def _salts(person: Person, named: Iterable[Place]) -> Iterator[Place]:
    """The salts of the sheets that tell of a person: without it nobody can try names on a digest.

    What was signed stays as it is, so the signature holds as before.
    """
    sheets = set(Sheet.objects.filter(buyer=person.pk).values_list("pk", flat=True))
    sheets |= {one.pk for one in named if one.model is Sheet and one.column == "content"}
    for model, by in ((Sheet, "pk"), (Sheet.history.model, "id")):
        rows = model._base_manager.filter(**{f"{by}__in": sheets}).exclude(salt="")
        for pk in rows.values_list("pk", flat=True):
            yield Place(model, pk, SALT, "")


def _with_words(
    model: type[Model], field: "Field[Any, Any]", words: Collection[str]
) -> Iterator[tuple[Any, Any]]:
    """The rows in which one of the words may stand; of JSON, which escapes letters, all."""
    rows = model._base_manager.exclude(**{f"{field.name}": None} if field.null else {"pk": None})
    if not isinstance(field, JSONField):
        asked = (Q(**{f"{field.name}__icontains": one}) for one in words)
        rows = rows.filter(reduce(or_, asked, Q(pk__in=[])))
    return rows.values_list("pk", field.name).iterator(chunk_size=500)


def _out_of(person: Person, value: Any) -> Any:
    """A value, or what hangs together as JSON, without the person."""
    if isinstance(value, str):
        return person.out_of(value)
    if isinstance(value, list):
        return [_out_of(person, one) for one in value]
    if isinstance(value, dict):
        return {person.out_of(key): _out_of(person, one) for key, one in value.items()}
    return value
