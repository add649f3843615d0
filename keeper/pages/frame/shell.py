"""What every page's frame shows: name, navigation, theme, help for phones; and pages without it."""

from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse

from keeper import NAME
from keeper.discretion import sees_people, sees_prices
from keeper.domain.offline import readers
from keeper.models import Account

THEMES = ("system", "light", "dark")


@dataclass(frozen=True)
class Entry:
    """One entry of the navigation: a label, the page it opens, and the area it stands for.

    A page belongs to the area that its URL's name starts with: `animals`, `animals-edit` and
    `animals-new` all mark the entry `animals` as the current one.
    """

    label: str
    area: str
    icon: str

    def is_current(self, view_name: str) -> bool:
        """Whether the page of this name belongs to the entry's area."""
        return view_name == self.area or view_name.startswith(f"{self.area}-")


# In the order shown. On a phone they are the bar at the bottom: five at most fit a thumb.
NAVIGATION = (
    Entry("Today", "home", "day"),
    Entry("Animals", "animals", "animal"),
    Entry("Clutches", "clutches", "eggs"),
    Entry("Projects", "projects", "goal"),
    Entry("Register", "register", "register"),
)


@dataclass(frozen=True)
class Link:
    """A navigation entry as the page prints it."""

    label: str
    icon: str
    url: str
    is_current: bool


def navigation(view_name: str) -> list[Link]:
    """Return the links of the navigation with the current one marked."""
    return [
        Link(entry.label, entry.icon, reverse(entry.area), entry.is_current(view_name))
        for entry in NAVIGATION
    ]


def shell(request: HttpRequest) -> dict[str, Any]:
    """Return what `base.html` needs on every page (a context processor)."""
    match = request.resolver_match
    theme = request.COOKIES.get("theme", "system")
    who = getattr(request, "user", None)
    keeps_pages = readers.COOKIE in request.COOKIES
    return {
        "book_name": NAME,
        "navigation": navigation(match.view_name if match else ""),
        "theme": theme if theme in THEMES else "system",
        "served_on_network": settings.SERVE == "lan",
        "keeps_pages": keeps_pages,
        "reader_mark": readers.mark(who) if keeps_pages and isinstance(who, Account) else "",
        "sees_people": sees_people(),
        "sees_prices": sees_prices(),
    }


# What a page without the frame looks like, for whoever has its address.
BARE_STYLES = ("tokens", "base", "layout", "notices", "marks", "sheets", "papers_public")


def bare_page(request: HttpRequest, template: str, context: dict[str, Any]) -> HttpResponse:
    """Answer with a page without the frame, for whoever has its address; it is listed nowhere."""
    styles = [static(f"css/{name}.css") for name in BARE_STYLES]
    answer = render(request, template, context | {"styles": styles})
    answer["Referrer-Policy"] = "no-referrer"
    answer["X-Robots-Tag"] = "noindex, nofollow"
    return answer
