"""Signed reports of crosses: this book's own to send, and those of others to bring in."""

import base64
from collections.abc import Sequence
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from keeper.access import account, owner_only
from keeper.domain.book.previewing import Preview, tried
from keeper.domain.book.writing import Refused
from keeper.domain.lines import reports
from keeper.domain.lines.reports import Report, Weighed
from keeper.domain.saying.figures import percent
from keeper.models import Contact, Line, grouped
from keeper.pages.frame.files import kept_file
from keeper.pages.frame.forms import SignedFile, SignerForm
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import said, take_error
from keeper.pages.frame.requests import form_view
from keeper.pages.lines.addresses import address_of, two_lines


class ReportFile(SignedFile):
    """A report's file."""

    missing = "Choose the file of a report."

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        file = self.fields["file"]
        file.label = "The report"
        file.help_text = (
            "The file that another book wrote of its own crosses between the two lines."
        )


class ReportForm(SignerForm):
    """Whose report it is, and which of its lines is which of this book."""

    same = forms.BooleanField(required=False)
    field_order = ("same",)

    def __init__(
        self,
        *args: Any,
        of: Report,
        lines: tuple[Line, Line],
        signers: Sequence[Contact],
        **kwargs: Any,
    ) -> None:
        issuer = str(of.record["issuer"])[:80]
        super().__init__(*args, signers=signers, issuer=issuer, **kwargs)
        first, second = of.lines
        same, whose, trust, compared = (
            self.fields[name] for name in ("same", "source", "trust", "compared")
        )
        same.label = (
            f"{first} and {second} of the report are {lines[0]} and {lines[1]} of this book"
        )
        whose.label = "Whose report it is"
        trust.help_text = "0 to 100 %: their crosses count so far. It can be changed on their page."
        compared.label = "The fingerprint above is the one that they print on their sheets"
        self.initial["same"] = {one["name"].casefold() for one in of.told["lines"]} == {
            line.name.casefold() for line in lines
        }

    def clean_same(self) -> bool:
        """Ask that the lines are the same, whatever they are called."""
        if not self.cleaned_data["same"]:
            raise ValidationError("Say that they are the same two lines, or leave the report.")
        return True


@owner_only
@require_POST
def write(request: HttpRequest, one: int, other: int) -> HttpResponse:
    """Write a signed report of this book's crosses between two lines, and give it as a file."""
    first, second = two_lines(one, other)
    try:
        data, _ = reports.write(one=first, other=second, by=account(request))
    except (Refused, ValidationError) as error:
        messages.error(request, said(error))
        return redirect(address_of(first, second))
    return kept_file(f"crosses-{first.code}-{second.code}.json", data)


@owner_only
@form_view
def bring_in(request: HttpRequest, one: int, other: int) -> HttpResponse:
    """Read a report of another book, show what it does, and bring it in."""
    lines = two_lines(one, other)
    form = ReportFile(request.POST or None, request.FILES or None)
    context: dict[str, Any] = {"lines": lines, "form": form, "back": address_of(*lines)}
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data["data"]
        try:
            report = reports.opened(data)
            reports.refuse_known(report)
            found = reports.weighed(report, *lines)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            return _looked_at(request, report, found, data, context)
    return render(request, "compatibility/report.html", context)


def _looked_at(
    request: HttpRequest, report: Report, found: Weighed, data: bytes, context: dict[str, Any]
) -> HttpResponse:
    lines, known = context["lines"], list(reports.signers(report))
    asked = ReportForm(
        request.POST if "look" in request.POST else None, of=report, lines=lines, signers=known
    )
    context |= {
        "report": report,
        "form": asked,
        "found": found,
        "key": grouped(report.fingerprint),
        "stated": percent(found.stated, certain=found.stated == 1),
        "here": percent(found.here, certain=found.here == 1),
        "known": known,
        "data": base64.b64encode(data).decode("ascii"),
    }
    if asked.is_valid():
        given, by = asked.cleaned_data, account(request)
        try:
            outcome = tried(
                lambda: reports.bring_in(
                    report=report, one=lines[0], other=lines[1], source=given["source"],
                    name=given["name"], trust=given["trust"], key_compared=given["compared"], by=by,
                ),
                seen=request.POST.get("seen", ""),
                always=True,
            )  # fmt: skip
        except (Refused, ValidationError) as error:
            take_error(asked, error)
        else:
            if not isinstance(outcome, Preview):
                return after_save(context["back"], outcome)
            context["preview"] = outcome
    return render(request, "compatibility/report.html", context)
