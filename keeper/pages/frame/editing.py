"""The one way in which a page of the register asks for something and saves it.

A save that moves numbers is first shown with all that it would move; sent once more with what
stands for that outcome, it is kept if it still does the same.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from django.core.exceptions import ValidationError
from django.forms import BaseForm, BoundField
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from keeper.domain.book.previewing import Preview, tried
from keeper.domain.book.writing import Refused
from keeper.models import DaybookEntry
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import take_error


@dataclass(frozen=True)
class Section:
    """Fields that belong together, under a heading; `name` is for the style sheet."""

    title: str
    fields: Sequence[BoundField]
    name: str = ""
    help: str = ""
    folded: bool = False


def section(form: BaseForm, title: str = "", *names: str, **more: object) -> Section:
    """Return a section of these fields of a form, or of all that it shows."""
    fields = [form[name] for name in names or form.fields if name in form.fields]
    return Section(title, fields, **more)  # type: ignore[arg-type]  # passed on as they are


@dataclass(frozen=True)
class Editing:
    """A page that asks: what is being done, the fields, and where it leads back to.

    Attributes:
        forms: those that must be valid; errors as a whole stand above the first.
        reason: asked for a change, not for what is new.
        more: value of a button that asks for one more row, if there can be more; `more_of` is
            what it says.
        also: what else is sent along.
        preview: what saving would move, once that was tried.
        aside: name of the page that asks for the same otherwise, and its words.
    """

    heading: str
    forms: Sequence[BaseForm]
    sections: Sequence[Section]
    back: str
    lead: str = ""
    submit: str = "Save"
    harm: bool = False
    reason: ReasonForm | None = None
    more: int | None = None
    more_of: str = "One more part"
    also: Mapping[str, object] = field(default_factory=dict)
    preview: Preview | None = None
    aside: tuple[str, str] | None = None

    @property
    def hidden(self) -> list[BoundField]:
        """Fields that are sent but not shown."""
        return [field for form in self.forms for field in form.hidden_fields()]

    def is_valid(self) -> bool:
        """Whether all that was typed can be read."""
        valid = [form.is_valid() for form in (*self.forms, *([self.reason] if self.reason else []))]
        return all(valid)


def edited(
    request: HttpRequest,
    page: Editing,
    *,
    save: Callable[[str], DaybookEntry],
    to: Callable[[], str],
) -> HttpResponse:
    """Answer with the page; or save (given the reason) and go `to` the page that shows it.

    What would move numbers is shown on the page first and saved when it is confirmed.
    """
    if request.method == "POST" and "rows" not in request.POST and page.is_valid():
        if page.reason is not None and not any(form.has_changed() for form in page.forms):
            return redirect(to())
        reason = str(page.reason.cleaned_data["reason"]) if page.reason else ""
        try:
            outcome = tried(lambda: save(reason), seen=seen_by(request))
        except (Refused, ValidationError) as error:
            take_error(page.forms[0], error, *page.forms[1:])
        else:
            if isinstance(outcome, DaybookEntry):
                # What is new has its address only now.
                return after_save(to(), outcome)
            page = replace(page, preview=outcome)
    return asked(request, page)


def asked(request: HttpRequest, page: Editing) -> HttpResponse:
    """Answer with the page that asks."""
    return render(request, "register/form.html", {"page": page})


def seen_by(request: HttpRequest) -> str:
    """Return what stands for the outcome that was shown before this was sent; empty: none."""
    return request.POST.get("seen", "")
