"""Several lines of a trait: which earlier animals are of the first, and each line's part."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from django import forms

from keeper.domain.register.second_lines import (
    FIRST,
    SECOND,
    UNKNOWN,
    Earlier,
    Key,
    earlier_words,
    key_of,
    may_be_unknown,
)
from keeper.domain.saying.counts import how_many
from keeper.domain.saying.typed_chance import as_typed
from keeper.models import LabTest, Line, ProspectWord
from keeper.pages.frame.fields import ChanceInput
from keeper.pages.register.line_forms import CodeInput

_EACH = "each"
_OF = {FIRST: "the line that is here", SECOND: "the new line", UNKNOWN: "line not known"}
_EVERY = {
    FIRST: "All are of the line that is here",
    UNKNOWN: "Of all of them the line is not known",
    _EACH: "As chosen one by one",
}


class FirstLineForm(forms.Form):
    """Code and name of the line that is there, and of which line each earlier word is."""

    code = CodeInput(
        label="Its code",
        min_length=2,
        max_length=3,
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "spellcheck": "false"}),
        help_text="Two or three letters; stands after the trait.",
    )
    name = forms.CharField(label="Its name", max_length=60)
    every = forms.ChoiceField(label="They are", widget=forms.RadioSelect)

    def __init__(self, *args: Any, line: Line, **kwargs: Any) -> None:
        """Ask for the name of `line`, and of which line each word on it is."""
        super().__init__(*args, **kwargs)
        self.initial.setdefault("code", line.code)
        self.words = {key_of(word): word for word in earlier_words(line)}
        self.one_by_one = [str(key) for key in self.words]
        if not self.words:
            del self.fields["every"]
            return
        every: Any = self.fields["every"]
        all_may = all(map(may_be_unknown, self.words.values()))
        every.choices = [(one, said) for one, said in _EVERY.items() if one != UNKNOWN or all_may]
        for key, word in self.words.items():
            known = [one for one in _OF if one != UNKNOWN or may_be_unknown(word)]
            self.fields[str(key)] = forms.ChoiceField(
                label=_said(word),
                choices=[(one, _OF[one]) for one in known],
                initial=FIRST,
                required=False,
            )

    @property
    def about_earlier(self) -> str:
        """What is asked of them, and of how many."""
        count = how_many(len(self.words), "time")
        return f"The line was named on animals or found in them {count} before there were two."

    @property
    def is_for_all(self) -> bool:
        """Whether one answer was given for all of them, or none yet."""
        return bool(self["every"].value() != _EACH)

    def named(self) -> tuple[str, str]:
        """Return code and name of the line that is there."""
        return self.cleaned_data["code"], self.cleaned_data["name"]

    def chosen(self) -> Mapping[Key, str]:
        """Return of which line every word is."""
        every = self.cleaned_data.get("every")
        if every == _EACH:
            return {key: self.cleaned_data[str(key)] or FIRST for key in self.words}
        return dict.fromkeys(self.words, every or FIRST)


def _said(word: Earlier) -> str:
    """Whose word it is, and what it says."""
    if isinstance(word, LabTest):
        return f"{word.animal}: {word.get_found_display()} found"
    if isinstance(word, ProspectWord):
        return f"{word.prospect}, a prospect: {word.get_claim_display()}"
    return f"{word.animal}: {word.get_claim_display()}"


class SharesForm(forms.Form):
    """The parts of a trait's lines among animals sold as it, line not known: together 100 %."""

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
