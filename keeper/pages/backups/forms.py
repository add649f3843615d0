"""Forms of copies: how they are made, what encrypts them, one from elsewhere, and the way back."""

from pathlib import Path
from typing import Any

from django import forms

from keeper.domain.backups.sealing import SHORTEST
from keeper.domain.backups.shelf import Wishes

_HOURS = [(6, "every six hours"), (12, "twice a day"), (24, "daily"), (168, "weekly")]


def _passphrase(label: str, help_text: str = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        strip=False,
        max_length=200,
        help_text=help_text,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )


def _folder(label: str, help_text: str) -> forms.CharField:
    attributes = {"autocapitalize": "none", "spellcheck": "false", "autocomplete": "off"}
    return forms.CharField(
        label=label,
        required=False,
        max_length=500,
        help_text=help_text,
        widget=forms.TextInput(attrs=attributes),
    )


class WishesForm(forms.Form):
    """How often, where, how many."""

    hours = forms.TypedChoiceField(
        label="A copy by itself",
        coerce=int,
        choices=[*_HOURS, (0, "never: something else calls back_up --if-due")],
    )
    second = _folder(
        "Second folder",
        "On another disk: a USB stick, a share of the network. As this machine calls it.",
    )
    first = _folder("First folder", "Empty: beside the book, in its data folder.")
    last = forms.IntegerField(label="Keep the last", min_value=1, max_value=100)
    weeks = forms.IntegerField(label="Then one a week, so many weeks", min_value=0, max_value=520)
    months = forms.IntegerField(
        label="Then one a month, so many months", min_value=0, max_value=600
    )

    def clean_first(self) -> str:
        """Refuse what is no folder."""
        return _checked(self.cleaned_data["first"])

    def clean_second(self) -> str:
        """Refuse what is no folder."""
        return _checked(self.cleaned_data["second"])

    def clean(self) -> dict[str, Any]:
        """Refuse the same folder twice."""
        cleaned = super().clean() or {}
        if cleaned.get("first") and cleaned.get("first") == cleaned.get("second"):
            self.add_error("second", "Both folders are the same. Choose one on another disk.")
        return cleaned

    def wishes(self) -> Wishes:
        """Return what was chosen."""
        return Wishes(**self.cleaned_data)


def _checked(typed: str) -> str:
    if not typed:
        return ""
    path = Path(typed)
    try:
        there = path.is_absolute() and path.is_dir()
    except (OSError, ValueError):
        there = False
    if not there:
        raise forms.ValidationError(
            "There is no such folder on this machine now. Make it, or connect its disk; write its "
            "whole path."
        )
    return str(path)


class PassphraseForm(forms.Form):
    """What copies are encrypted with from now on."""

    passphrase = _passphrase("Passphrase", f"{SHORTEST} letters or more; a few words in a row.")
    again = _passphrase("The passphrase once more")

    def clean_passphrase(self) -> str:
        """Refuse one that is guessed too soon."""
        typed = str(self.cleaned_data["passphrase"])
        if len(typed) < SHORTEST:
            raise forms.ValidationError(f"It is too short. Use {SHORTEST} letters: add a word.")
        return typed

    def clean(self) -> dict[str, Any]:
        """Refuse two that differ."""
        cleaned = super().clean() or {}
        if "passphrase" in cleaned and cleaned["passphrase"] != cleaned.get("again"):
            self.add_error("again", "The two differ. Type them again.")
        return cleaned


class ReceiveForm(forms.Form):
    """A copy that lies somewhere else."""

    file = forms.FileField(
        label="A copy from this device",
        help_text="keptlines-….zip or ….zip.sealed, up to 60 MB. Put a larger one into a folder.",
        widget=forms.FileInput(attrs={"accept": ".zip,.sealed"}),
    )


class OpenForm(forms.Form):
    """What opens an encrypted copy."""

    passphrase = _passphrase("The passphrase it was made with")


class RestoreForm(forms.Form):
    """That it is meant."""

    sure = forms.BooleanField(
        label="Put this copy in the place of the book",
        error_messages={"required": "Tick this first, if you mean it. Read what would be lost."},
    )
    without_copy = forms.BooleanField(
        label="Go on without a copy of the book as it is now", required=False
    )
    passphrase = _passphrase("The passphrase once more")

    def __init__(self, *args: Any, sealed: bool, failed: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not sealed:
            del self.fields["passphrase"]
        self.failed = failed
        if not failed:
            self.fields["without_copy"].widget = forms.HiddenInput()

    def offer_without_copy(self) -> None:
        """Let it be chosen to go on where no copy of the present book can be made."""
        self.failed = True
        self.fields["without_copy"].widget = forms.CheckboxInput()
