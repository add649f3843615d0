"""A worker that takes one job out of the queue and stops in the middle of it, until it is killed.

python -m tests.keeper.background.stopping
"""

import os
import time
from typing import Any


def main() -> None:
    """Take one, say that it is there, and wait."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "keeper.settings")
    import django

    django.setup()
    from django.core.management import call_command

    from keeper.domain.background import kinds

    def work(given: dict[str, Any], tell: kinds.Tell) -> dict[str, Any]:
        tell("there")
        print("there", flush=True)  # noqa: T201
        time.sleep(600)
        return {}

    setattr(kinds, "work_of", lambda _: work)  # noqa: B010  (a function is no variable)
    call_command("db_worker", startup_delay=False, reload=False, verbosity=0)


if __name__ == "__main__":
    main()
