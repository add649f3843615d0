"""Under which host name the book is reached now, and whether passkeys can be of it.

A browser binds a passkey to the host name of the page that makes it, and asks for it there alone:
never under a bare number, and over https only, but for this machine's own `localhost`. Which names
are answered at all, and what a proxy may say, is decided before (`keeper.settings`).
"""

from dataclasses import dataclass
from urllib.parse import urlsplit

from keeper.domain.labels.addresses import is_name, offered

_OWN = "localhost"
_USUAL = {"https": 443, "http": 80}


@dataclass(frozen=True)
class Reached:
    """How the book is reached.

    Attributes:
        origin: as a browser names it, such as https://book.local:8443.
        host: the name that passkeys are of; empty where there can be none.
        why_not: why there can be none, as a sentence; empty where there can.
        instead: an address of the book under which there can be; empty where none is known.
    """

    origin: str
    host: str
    why_not: str = ""
    instead: str = ""


def reached(asked: str) -> Reached:
    """Return how the book is reached by the scheme and the host of a request.

    >>> reached("https://book.example.org:443").origin
    'https://book.example.org'
    """
    parts = urlsplit(asked)
    host, scheme = parts.hostname or "", parts.scheme
    port = f":{parts.port}" if parts.port not in (None, _USUAL.get(scheme)) else ""
    origin = f"{scheme}://{f'[{host}]' if ':' in host else host}{port}"
    if host == _OWN:
        return Reached(origin, host)
    if host.endswith("."):
        said = f"The book is open here by a name with a dot at its end ({host})."
        return Reached(origin, "", said, f"{scheme}://{host[:-1]}{port}")
    if not is_name(host):
        said = f"The book is open here by a number ({host}), and a passkey needs a host name."
        return Reached(origin, "", said, _by_name(origin))
    if scheme != "https":
        said = f"The book is open here without https ({origin}), and a passkey needs it."
        return Reached(origin, "", said)
    return Reached(origin, host)


def _by_name(origin: str) -> str:
    """Return an address of the book by name, if it has one under which passkeys work."""
    parts = urlsplit(origin)
    if parts.scheme == "https":
        names = [one for one in offered(origin) if is_name(urlsplit(one).hostname or "")]
        return names[0] if names else ""
    is_own = parts.hostname == "127.0.0.1"
    return f"http://{_OWN}{f':{parts.port}' if parts.port else ''}" if is_own else ""
