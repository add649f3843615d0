"""A book as an earlier version left it: `python -m tests.keeper.upgrades.older 0015_plans`.

Made step by step in the data folder that the environment names.
"""

import os
import sys

import django
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader


class _OneByOne(MigrationLoader):
    """Of all migrations those that stand for no others."""

    def load_disk(self) -> None:
        super().load_disk()
        self.disk_migrations = {
            key: one for key, one in self.disk_migrations.items() if not one.replaces
        }


def step_by_step() -> MigrationExecutor:
    """What applies every migration by itself, where a new book is made by one."""
    executor = MigrationExecutor(connection)
    executor.loader = _OneByOne(connection)
    return executor


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "keeper.settings")
    django.setup()
    step_by_step().migrate([("keeper", sys.argv[1])])
