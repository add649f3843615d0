"""Forms as a browser sends them: with the hidden fields that the page gave them."""

from html.parser import HTMLParser

from django.test import Client


class _Forms(HTMLParser):
    """Reads the forms of a page's main part that are posted: where to, and what they hold."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[tuple[str, dict[str, str], dict[str, str]]] = []
        self._in_main = self._in_form = False
        self._select, self._text = "", ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "main":
            self._in_main = True
        elif tag == "form" and self._in_main and given.get("method") == "post":
            self.forms.append((given.get("action", ""), {}, {}))
            self._in_form = True
        elif self._in_form and given.get("name"):
            self._field(tag, given)
        elif self._in_form and tag == "option" and self._select and "selected" in given:
            self.forms[-1][1][self._select] = given.get("value", "")

    def _field(self, tag: str, given: dict[str, str]) -> None:
        _, fields, hidden = self.forms[-1]
        name, kind = given["name"], given.get("type", "text")
        if tag == "select":
            self._select = name
            fields.setdefault(name, "")
        elif tag == "textarea":
            self._text = name
            fields.setdefault(name, "")
        elif tag == "input" and kind not in {"checkbox", "radio", "file", "submit"}:
            fields[name] = given.get("value", "")
            if kind == "hidden":
                hidden[name] = fields[name]
        elif tag == "input" and "checked" in given:
            fields[name] = given.get("value", "on")

    def handle_data(self, data: str) -> None:
        if self._text:
            self.forms[-1][1][self._text] += data.lstrip("\n")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._in_form = False
        elif tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._text = ""


def _form(page: str, action: str) -> tuple[dict[str, str], dict[str, str]]:
    reader = _Forms()
    reader.feed(page)
    for address, fields, hidden in reader.forms:
        if not action or address == action:
            return fields, hidden
    raise AssertionError(f"no form is posted {action or 'here'}")


def fields_in(page: str, action: str = "") -> dict[str, str]:
    """Return everything that the first posted form of a page holds (or the one to an address)."""
    return _form(page, action)[0]


def hidden_in(page: str, action: str = "") -> dict[str, str]:
    """Return its hidden fields alone."""
    return _form(page, action)[1]


def seen_in(page: str) -> str:
    """Return what stands for the outcome that a page shows before it is saved."""
    return hidden_in(page)["seen"]


def opened(client: Client, address: str, action: str = "") -> dict[str, str]:
    """Open a page, and return the hidden fields of its form."""
    page = client.get(address)
    assert page.status_code == 200, address
    return hidden_in(page.content.decode(), action)


def filled(client: Client, address: str, action: str = "") -> dict[str, str]:
    """Open a page, and return all that its form holds."""
    page = client.get(address)
    assert page.status_code == 200, address
    return fields_in(page.content.decode(), action)
