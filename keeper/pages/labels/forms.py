"""Forms of labels: what they are printed on, and which are printed."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from django import forms

from keeper.domain.labels.offer import Offer, key_of
from keeper.domain.labels.queries import Tally, sheets
from keeper.domain.labels.writes import Wanted
from keeper.domain.saying.counts import how_many
from keeper.models import LabelSheet, tub_code
from keeper.models.care.labels import MOST_ACROSS, MOST_DOWN
from keeper.pages.frame.fields import reason_field
from keeper.pages.frame.forms import BookForm

# Measures that sheets and rolls are often sold in: common practice, no source. Millimetres.
_SIDES = ("page_width", "page_height", "across", "down", "left", "right", "top", "bottom")
_OFTEN = ("name", *_SIDES, "gap_across", "gap_down")
OFTEN: Mapping[str, tuple[object, ...]] = MappingProxyType(
    {
        "a4-21": ("A4, 21 a page", 210, 297, 3, 7, "7.2", "7.2", "15.1", "15.1", "2.5", 0),
        "a4-24": ("A4, 24 a page", 210, 297, 3, 8, 0, 0, "0.5", "0.5", 0, 0),
        "letter-30": (
            *("Letter, 30 a page", "215.9", "279.4", 3, 10),
            *("4.8", "4.8", "12.7", "12.7", "3.1", 0),
        ),
        "roll-50": ("Label printer, 50 × 25 mm", 50, 25, 1, 1, 1, 1, 1, 1, 0, 0),
        "roll-62": ("Label printer, 62 × 29 mm", 62, 29, 1, 1, 2, 2, 1, 1, 0, 0),
    }
)


def often(name: str) -> dict[str, object]:
    """Return measures of this name to begin with; nothing where there are none."""
    found = OFTEN.get(name)
    return dict(zip(_OFTEN, found, strict=True)) if found else {}


class SheetForm(BookForm[LabelSheet]):
    """What labels are printed on, by its measures."""

    class Meta:
        model = LabelSheet
        fields = list(_OFTEN)
        labels = {
            "page_width": "Page: width in mm",
            "page_height": "Page: height in mm",
            "across": "Columns",
            "down": "Rows",
            "left": "Margin left in mm",
            "right": "Margin right in mm",
            "top": "Margin top in mm",
            "bottom": "Margin bottom in mm",
            "gap_across": "Gap between columns in mm",
            "gap_down": "Gap between rows in mm",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in _OFTEN[1:]:
            self.fields[name].widget.attrs["inputmode"] = "decimal"
        if self.instance.pk is not None:
            self.fields["reason"] = reason_field()


class PrintForm(forms.Form):
    """Which labels, on what, from which label on, and for which address of the book."""

    subjects = forms.MultipleChoiceField(
        required=False, label="What gets a label", widget=forms.CheckboxSelectMultiple
    )
    sheet = forms.ModelChoiceField(LabelSheet.objects.none(), label="Printed on", empty_label=None)
    first = forms.IntegerField(
        label="Begin at label",
        min_value=1,
        max_value=MOST_ACROSS * MOST_DOWN,
        initial=1,
        help_text="Of the first page: 1 is the one at the top left, and counting goes by rows.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    address = forms.ChoiceField(
        label="Its codes lead to",
        help_text="The name under which phones reach the book. It stays on the labels for good.",
    )

    def __init__(
        self, *args: Any, offer: Offer, addresses: list[str], last: Any = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.offer = offer
        named = [(key_of(one), words) for one, words in offer.named]
        subjects: Any = self.fields["subjects"]
        subjects.choices = named
        subjects.initial = [key for key, _ in named]
        if not named:
            del self.fields["subjects"]
        for tally in offer.tallies:
            self.fields[_tubs(tally)] = _tubs_field(tally)
        sheet: Any = self.fields["sheet"]
        sheet.queryset = sheets()
        address: Any = self.fields["address"]
        address.choices = [(one, one) for one in addresses]
        if last is not None:
            sheet.initial = last.sheet_id
            address.initial = last.address if last.address in addresses else addresses[0]
        self.order_fields(
            ["subjects", *(_tubs(one) for one in offer.tallies), "sheet", "first", "address"]
        )

    def wanted(self) -> Wanted:
        """Return what was chosen, once the form is valid."""
        keys = set(self.cleaned_data.get("subjects", ()))
        tubs = [(one.row, self.cleaned_data[_tubs(one)] or 0) for one in self.offer.tallies]
        return self.offer.wanted(keys, [(row, many) for row, many in tubs if many])


def _tubs(tally: Tally) -> str:
    return f"tubs-{tally.row.pk}"


def _tubs_field(tally: Tally) -> forms.IntegerField:
    left = how_many(tally.left, "hatchling")
    given = f", {how_many(tally.given, 'tub has', 'tubs have')} a label" if tally.given else ""
    return forms.IntegerField(
        required=False,
        min_value=0,
        max_value=tally.left,
        initial=tally.without,
        label=f"Tubs of {tally.row.clutch}, {tally.words}",
        help_text=f"{left} without a record{given}. Their tubs are numbered within the clutch, "
        f"{tub_code(1)}, {tub_code(2)} and so on, until a hatchling has a record.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
