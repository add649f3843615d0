"""A process that makes or restores a copy and stops at a named place until it is killed.

    python -m tests.keeper.backups.stopping PLACE [COPY]

PLACE is a function, `module.name` below `keeper.domain.backups`; the process says "there" once that
was called so often as `PLACE:times` wants, before it does anything else. With COPY it is restored.
"""

import importlib
import os
import sys
import time
from pathlib import Path
from typing import Any


def main() -> None:
    """Set the stop, and go."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "keeper.settings")
    import django

    django.setup()
    from keeper.domain.backups import making
    from keeper.domain.backups.restoring import restore

    place, _, times = sys.argv[1].partition(":")
    module, _, name = place.rpartition(".")
    where = importlib.import_module(f"keeper.domain.backups.{module}")
    does, left = getattr(where, name), int(times or 1)

    def stop(*arguments: Any, **named: Any) -> Any:
        nonlocal left
        left -= 1
        done = does(*arguments, **named)
        if not left:
            print("there", flush=True)  # noqa: T201
            time.sleep(600)
        return done

    setattr(where, name, stop)
    if len(sys.argv) > 2:
        restore(Path(sys.argv[2]))
    else:
        making.make("by hand")


if __name__ == "__main__":
    main()
