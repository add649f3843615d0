"""The parts of a trait's lines among animals sold as it, line not known."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from django import forms

from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Line
from keeper.pages.frame.fields import ChanceInput


class SharesForm(forms.Form):
    """One part for each line; together they make 100 %."""

    def __init__(self, *args: Any, shares: Mapping[Line, Fraction], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = {f"line-{line.pk}": line for line in shares}
        for name, line in self.lines.items():
            self.fields[name] = ChanceInput(label=line.title, initial=shares[line])

    def clean(self) -> dict[str, Any]:
        """Refuse parts that do not make 100 % together."""
        cleaned = super().clean() or {}
        whole = sum((part for part in cleaned.values() if part is not None), Fraction(0))
        if not self.errors and whole != 1:
            raise forms.ValidationError(f"Together they make {as_typed(whole)}; make them 100 %.")
        return cleaned

    def chosen(self) -> dict[Line, Fraction]:
        """Return the part of each line."""
        return {line: self.cleaned_data[name] for name, line in self.lines.items()}
