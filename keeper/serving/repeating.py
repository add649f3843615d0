"""Something that is done again and again beside the server, until the program ends."""

import logging
import threading
from collections.abc import Callable

_log = logging.getLogger(__name__)


def repeat(act: Callable[[], None], *, every: float, name: str) -> threading.Event:
    """Do something at once and then every so many seconds, in a thread of its own.

    What fails is written to the log and tried again the next time. Waiting is done by the clock
    that nobody sets, so a machine that slept goes on where it was. Set the event that is returned
    to end it after what it is doing.
    """
    ending = threading.Event()

    def run() -> None:
        while True:
            try:
                act()
            except Exception:  # noqa: BLE001  (whatever it was, it must not be the last time)
                _log.exception("%s failed; it is tried again in %s seconds", name, every)
            if ending.wait(every):
                return

    threading.Thread(target=run, name=name, daemon=True).start()
    return ending
