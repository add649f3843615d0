"""Who asks, where proxies of the keeper's own stand between: log-ins are limited by it."""

import ipaddress
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.core.exceptions import MiddlewareNotUsed


class VisitorAddressMiddleware:
    """Puts the visitor's address in place of the proxy's; not used where there is no proxy.

    Each proxy adds the address that it was asked from at the end of `X-Forwarded-For`. What the
    visitor itself wrote there stands before those, and is never believed. The proxy that is asked
    first ends TLS, and all set `X-Forwarded-Proto`.
    """

    def __init__(self, answer: Callable[[Any], Any]) -> None:
        self.answer = answer
        self.proxies: int = settings.TRUSTED_PROXIES
        if not self.proxies:
            raise MiddlewareNotUsed

    def __call__(self, request: Any) -> Any:
        """Answer a request, with its visitor's address."""
        visitor = visitor_of(request.META.get("HTTP_X_FORWARDED_FOR", ""), self.proxies)
        if visitor:
            request.META["REMOTE_ADDR"] = visitor
        return self.answer(request)


def visitor_of(forwarded: str, proxies: int) -> str:
    """Return the address that the outermost of so many proxies was asked from; empty: unknown.

    >>> visitor_of("6.6.6.6, 192.0.2.7", 1)
    '192.0.2.7'
    """
    named = forwarded.split(",")
    if len(named) < proxies:
        return ""
    one = named[-proxies].strip()
    if one.startswith("["):
        one = one[1:].partition("]")[0]
    elif one.count(":") == 1:
        one = one.partition(":")[0]
    try:
        return str(ipaddress.ip_address(one))
    except ValueError:
        return ""
