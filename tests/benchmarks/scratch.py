"""A database of its own in a temporary folder, for a benchmark of the app."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def scratch_book() -> Iterator[None]:
    """Set Django up on an empty book; what is imported from `keeper` must come after."""
    folder = Path(tempfile.mkdtemp(prefix="keptlines-benchmark-"))
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "keeper.settings",
        "KEPTLINES_DATA": str(folder),
        "KEPTLINES_SERVE": "loopback",
    }
    try:
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        yield
    finally:
        shutil.rmtree(folder)
