"""Under which names and numbers this machine can be reached from its own network."""

import ipaddress
import re
import socket
from urllib.parse import urlsplit

# Networks of homes, clubs and test benches. None of them is ever routed on the open internet,
# so nothing of ours answers there and our authority can vouch for nobody there.
HOME_NETWORKS = tuple(
    ipaddress.IPv4Network(network)
    for network in (
        *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "100.64.0.0/10"),
        *("192.0.2.0/24", "198.51.100.0/24", "203.0.113.0/24", "198.18.0.0/15"),
    )
)
LOOPBACK = ("localhost", "127.0.0.1")

# Reserved for documentation: a datagram socket "connected" to it sends nothing, but makes the
# system choose the address it would send from.
_ELSEWHERE = ("192.0.2.1", 9)


def network_addresses() -> list[str]:
    """Return this machine's addresses on its networks, the likeliest first; none if offline."""
    found = [_chosen_by_system(), *_named()]
    return list(dict.fromkeys(address for address in found if _is_at_home(address)))


def network_names() -> list[str]:
    """Return the name other devices on the network may know this machine by."""
    label = socket.gethostname().split(".")[0].lower()
    return [f"{label}.local"] if re.fullmatch(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", label) else []


def public_address(said: str) -> str:
    """Return an address on the internet without the slash at its end; nothing for nothing.

    Raises:
        ValueError: it is none that a browser takes for secure, or has a query or a fragment.
    """
    if not said:
        return ""
    parts = urlsplit(said)
    if (
        parts.scheme != "https"
        or not parts.hostname
        or parts.query
        or parts.fragment
        or "@" in said
    ):
        raise ValueError(f"is {said!r}; it must be like https://papers.example.org/snakes")
    return said.rstrip("/")


def _chosen_by_system() -> str:
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(_ELSEWHERE)
            return str(probe.getsockname()[0])
    except OSError:
        return ""


def _named() -> list[str]:
    try:
        return [str(entry[4][0]) for entry in socket.getaddrinfo(socket.gethostname(), None)]
    except OSError:
        return []


def _is_at_home(address: str) -> bool:
    try:
        parsed = ipaddress.IPv4Address(address)
    except ValueError:
        return False
    return any(parsed in network for network in HOME_NETWORKS)
