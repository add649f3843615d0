"""Signed reports of crosses: this book's own to send, and those of others to bring in."""

import base64
import binascii
from collections.abc import Iterable
from fractions import Fraction
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
from keeper.pages.frame.fields import ChanceInput
from keeper.pages.frame.moved import after_save
from keeper.pages.frame.refusals import said, take_error
from keeper.pages.frame.requests import form_view
from keeper.pages.lines.addresses import address_of, two_lines


class ReportFile(forms.Form):
    """A report's file; sent once, and then carried along by the page."""

    file = forms.FileField(
        required=False,
        label="The report",
        help_text="The file that another book wrote of its own crosses between the two lines.",
        widget=forms.FileInput(attrs={"accept": ".json,application/json"}),
    )
    paper = forms.CharField(required=False, widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        """Put the bytes of the file into `data`, whichever way they came."""
        cleaned: dict[str, Any] = super().clean() or {}
        file, sent = cleaned.get("file"), cleaned.get("paper", "")
        try:
            data = file.read() if file else base64.b64decode(sent, validate=True)
        except binascii.Error as error:
            raise ValidationError("The file was lost on the way. Choose it again.") from error
        if not data:
            raise ValidationError({"file": "Choose the file of a report."})
        return cleaned | {"data": data}


class ReportForm(forms.Form):
    """Whose report it is, and which of its lines is which of this book."""

    same = forms.BooleanField(required=False)
    source = forms.ModelChoiceField(
        Contact.objects.none(),
        required=False,
        label="Whose report it is",
        empty_label="a new contact",
    )
    name = forms.CharField(max_length=80, required=False, label="Name of the new contact")
    trust = ChanceInput(
        required=False,
        label="How far you take the new contact’s word",
        help_text="0 to 100 %: their crosses count so far. It can be changed on their page.",
    )
    compared = forms.BooleanField(
        required=False, label="The fingerprint above is the one that they print on their sheets"
    )

    def __init__(
        self,
        *args: Any,
        of: Report,
        lines: tuple[Line, Line],
        signers: Iterable[Contact],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        known = list(signers)
        first, second = of.lines
        same = {one["name"].casefold() for one in of.told["lines"]} == {
            line.name.casefold() for line in lines
        }
        self.fields[
            "same"
        ].label = f"{first} and {second} of the report are {lines[0]} and {lines[1]} of this book"
        source: Any = self.fields["source"]
        source.queryset = Contact.objects.live()
        self.initial.update(
            same=same,
            source=known[0] if known else None,
            name="" if known else str(of.record["issuer"])[:80],
            trust=Fraction(1),
        )

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
    answer = HttpResponse(data, content_type="application/json")
    name = f"crosses-{first.code}-{second.code}.json"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


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
    lines = context["lines"]
    asked = ReportForm(
        request.POST if "look" in request.POST else None,
        of=report, lines=lines, signers=reports.signers(report),
    )  # fmt: skip
    context |= {
        "report": report,
        "form": asked,
        "found": found,
        "key": grouped(report.fingerprint),
        "stated": percent(found.stated, certain=found.stated == 1),
        "here": percent(found.here, certain=found.here == 1),
        "known": list(reports.signers(report)),
        "data": base64.b64encode(data).decode("ascii"),
    }
    if asked.is_valid():
        given, by = asked.cleaned_data, account(request)
        trust = Fraction(1) if given["trust"] is None else given["trust"]
        try:
            outcome = tried(
                lambda: reports.bring_in(
                    report=report, one=lines[0], other=lines[1], source=given["source"],
                    name=given["name"], trust=trust, key_compared=given["compared"], by=by,
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
