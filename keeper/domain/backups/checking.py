"""Every check of every record anew: what is read from a file was not typed into a form."""

from collections.abc import Iterator
from itertools import islice

from django.apps import apps
from django.core.exceptions import ValidationError

from keeper.domain.book.refusing import sentence
from keeper.models import Record

# More of them are counted by nobody: the first say what is wrong.
MOST = 20


def faults(most: int = MOST) -> list[str]:
    """Return what is not in order with records that count, in words; at most so many.

    What the database itself checks, it has checked as it took the rows in: what is unique, what
    names what, and the conditions of its tables.
    """
    return list(islice(_faults(), most))


def _faults() -> Iterator[str]:
    kinds = (one for one in apps.get_app_config("keeper").get_models() if issubclass(one, Record))
    for kind in kinds:
        relations = [field.name for field in kind._meta.get_fields() if field.is_relation]
        for record in kind.objects.live().order_by("pk").iterator(chunk_size=500):
            try:
                record.clean_fields(exclude=relations)
                record.clean()
            except ValidationError as error:
                yield sentence(f"{kind._meta.verbose_name} {record}: {' '.join(error.messages)}")
