"""Who asks, where proxies stand between."""

import pytest
from django.core.exceptions import MiddlewareNotUsed
from django.test import override_settings

from keeper.serving.proxies import VisitorAddressMiddleware, visitor_of


@pytest.mark.parametrize(
    ("forwarded", "proxies", "visitor"),
    [
        ("192.0.2.7", 1, "192.0.2.7"),
        ("6.6.6.6, 192.0.2.7", 1, "192.0.2.7"),
        ("6.6.6.6, 192.0.2.7, 10.0.0.2", 2, "192.0.2.7"),
        ("192.0.2.7:52110", 1, "192.0.2.7"),
        ("[2001:DB8::7]:52110", 1, "2001:db8::7"),
        ("2001:db8::7", 1, "2001:db8::7"),
        ("192.0.2.7", 2, ""),
        ("unknown", 1, ""),
        ("", 1, ""),
        ("192.0.2.7, <script>", 1, ""),
    ],
)
def test_only_what_our_own_proxies_added_is_believed(
    forwarded: str, proxies: int, visitor: str
) -> None:
    assert visitor_of(forwarded, proxies) == visitor


def test_without_a_proxy_nothing_is_believed() -> None:
    with override_settings(TRUSTED_PROXIES=0), pytest.raises(MiddlewareNotUsed):
        VisitorAddressMiddleware(lambda request: request)
