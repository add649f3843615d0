#!/usr/bin/env python3
"""Start, test and look after the book: `python3 manage.py start`.

Readable by old Pythons down to the version check, so that they can say what is wrong.
"""

import sys

OLDEST, TOO_NEW = (3, 11), (3, 15)
if not OLDEST <= sys.version_info[:2] < TOO_NEW:
    sys.exit(
        "Keptlines needs Python %d.%d to %d.%d, and this is Python %d.%d: "
        "start it with another one, for example `python%d.%d manage.py start`."
        % (*OLDEST, TOO_NEW[0], TOO_NEW[1] - 1, *sys.version_info[:2], *OLDEST)
    )

from keeper.serving import firstrun  # noqa: E402  (only a new enough Python gets this far)


def main(arguments: list[str]) -> None:
    """Run one command in the project's own environment, made first if need be."""
    try:
        firstrun.enter(arguments)
    except firstrun.SetUpError as error:
        sys.exit(f"Keptlines: {error}")
    except KeyboardInterrupt:
        sys.exit("Stopped. The next start goes on from here.")

    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(["manage.py", *arguments])
    except ImproperlyConfigured as error:
        sys.exit(f"Keptlines: {error}")


if __name__ == "__main__":
    main(sys.argv[1:])
