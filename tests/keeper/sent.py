"""Forms as a browser sends them: with the hidden fields that the page gave them."""

import re
from html import unescape

from django.test import Client

_HIDDEN = re.compile(r'<input type="hidden" name="(\w+)" value="([^"]*)"')


def seen_in(page: str) -> str:
    """Return what stands for the outcome that a page shows before it is saved."""
    return hidden_in(page)["seen"]


def hidden_in(page: str, action: str = "") -> dict[str, str]:
    """Return the hidden fields of the first form of a page that is posted (to an address)."""
    # The margin has forms of its own.
    for form in re.findall(r"<form\b.*?</form>", page.partition("<main")[2], re.DOTALL):
        head = form.partition(">")[0]
        if 'method="post"' in head and (not action or f'action="{action}"' in head):
            return {name: unescape(value) for name, value in _HIDDEN.findall(form)}
    raise AssertionError(f"no form is posted {action or 'here'}")


def opened(client: Client, address: str, action: str = "") -> dict[str, str]:
    """Open a page, and return the hidden fields of its form."""
    page = client.get(address)
    assert page.status_code == 200, address
    return hidden_in(page.content.decode(), action)
