"""What was deleted is overwritten: a database keeps it in free pages, and its journal too."""

from django.apps import apps
from django.core.cache import cache
from django.db import DatabaseError, connection


def sweep() -> bool:
    """Write the database's file anew without what was deleted; return whether that could be done.

    It cannot be while others read or write; then it is to be done again. To be called outside a
    transaction. PostgreSQL's own archive of its journal is for whoever runs that server.
    """
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
