"""A connection of Waitress that nobody can hold on to for ever, nor too many of.

A silent connection is closed by Waitress itself. What is added here: one that sends a byte now and
then, and never a whole request, and more connections from one address than any phone needs.
"""

import ipaddress
import time
from typing import Any

from waitress.channel import HTTPChannel

# Seconds that the head of a request, and a short form, may take.
PATIENCE = 60
# Bytes a second that a long body, as photos, has to come at least after that, on average.
SLOWEST = 2048
# A browser opens six at a time; several phones may be behind one address.
FROM_ONE_ADDRESS = 64


class Channel(HTTPChannel):  # type: ignore[misc]  # its library has no types
    """A connection whose requests have to arrive in time."""

    patience: float = PATIENCE
    # When the request that is on its way began, and how much of it is here.
    _begun: float | None = None
    _so_far = 0

    def __init__(self, server: Any, sock: Any, addr: Any, adj: Any, map: Any = None) -> None:
        super().__init__(server, sock, addr, adj, map=map)
        if _limited(addr) and _as_many(server, addr) > FROM_ONE_ADDRESS:
            self.handle_close()

    def received(self, data: bytes) -> bool:
        """Take in what arrived; close if the request should have been here by now."""
        now = time.monotonic()
        if self._begun is None:
            self._begun, self._so_far = now, 0
        self._so_far += len(data)
        if now - self._begun > self.patience + self._so_far / SLOWEST:
            self.handle_close()
            return False
        taken = bool(super().received(data))
        if self.request is None:  # it is complete
            self._begun = None
        return taken


def _limited(addr: Any) -> bool:
    """Whether connections from an address are counted: not a proxy's on this machine."""
    try:
        return not ipaddress.ip_address(addr[0]).is_loopback
    except (ValueError, IndexError, TypeError):
        return False


def _as_many(server: Any, addr: Any) -> int:
    return sum(one.addr[0] == addr[0] for one in list(server.active_channels.values()))
