"""What was deleted is overwritten: a database keeps it in free pages, and its journal too.

Files cannot be deleted in the transaction that forgets them, nor can the database be written anew
in it. So what is left to do stands beside the book, from before the transaction until all of it is
done, and whoever comes next goes on with it: the next start, or `manage.py sweep`.
"""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.cache import cache
from django.db import DatabaseError, connection

from keeper.models import Contact
from keeper.serving import files
from keeper.serving.secrets import write_private

_FILE = "erasing.json"


def begin(contact: int, going: Iterable[str]) -> None:
    """Note which files go with somebody who is about to be erased."""
    left = [*_left(), {"contact": contact, "files": list(going)}]
    write_private(_path(), json.dumps(left).encode())


def is_left() -> bool:
    """Whether an erasure was begun of which something may be left to do."""
    return _path().exists()


def finish() -> bool:
    """Delete the files, and write the database's file anew; return whether that could be done.

    It cannot be while others read or write, or while the files are out of reach, and is left to be
    done then. To be called outside a transaction.
    """
    for one in _left():
        # If it came to nothing they are still somebody's.
        if Contact.objects.filter(pk=one["contact"]).exclude(erased_on=None).exists():
            try:
                for name in one["files"]:
                    files.delete(name)
            except OSError:
                return False
    if not _swept():
        return False
    _path().unlink(missing_ok=True)
    return True


def _swept() -> bool:
    """Write the database anew. PostgreSQL's archive of its journal is for who runs that server."""
    cache.clear()
    try:
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                cursor.execute("VACUUM")
                cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                return int(cursor.fetchone()[0]) == 0
            for model in apps.get_app_config("keeper").get_models(include_auto_created=True):
                cursor.execute(f'VACUUM FULL "{model._meta.db_table}"')
    except DatabaseError:
        return False
    return True


def _left() -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    if is_left():
        found = json.loads(_path().read_text(encoding="utf-8"))
    return found


def _path() -> Path:
    return Path(settings.DATA, _FILE)
