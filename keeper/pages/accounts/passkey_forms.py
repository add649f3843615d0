"""What is asked for with a passkey: a device's answer, a name, and a proof of who asks."""

from collections.abc import Callable
from typing import Any

from django import forms

from keeper.models.plain_text import visible
from keeper.pages.accounts.forms import PasswordForm


class _Unsaid(forms.HiddenInput):
    """A hidden field that is never filled in again: what stood in it was good once."""

    def format_value(self, value: Any) -> None:
        """Return nothing."""


def _answer() -> forms.CharField:
    """What the device answered, as JSON; `static/js/passkeys.js` puts it there."""
    widget = _Unsaid(attrs={"data-secret": ""})
    return forms.CharField(required=False, max_length=20_000, widget=widget)


class AnswerForm(forms.Form):
    """A device's answer alone."""

    passkey_answer = _answer()

    def clean(self) -> dict[str, Any]:
        """Refuse a form that came without."""
        cleaned = super().clean() or {}
        if not cleaned.get("passkey_answer"):
            self.add_error(
                None, "Your browser sent no passkey. Begin again, or use your password instead."
            )
        return cleaned


class ProofForm(PasswordForm):
    """The password once more, or one of one's passkeys, before something that matters.

    `shown` looks a device's answer through, and returns what is wrong with it.
    """

    passkey_answer = _answer()

    def __init__(self, *args: Any, shown: Callable[[str], str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._shown = shown
        self.fields["current"].required = False
        # A form without either comes back and says so; the button of a passkey needs none.
        self.use_required_attribute = False

    def clean_current(self) -> str:
        """Refuse another password; none at all may be made up for by a passkey."""
        return super().clean_current() if self.cleaned_data["current"] else ""

    def clean(self) -> dict[str, Any]:
        """Look at the passkey last, since it is good once."""
        cleaned = super().clean() or {}
        if self.errors or cleaned.get("current"):
            return cleaned
        answer = cleaned.get("passkey_answer")
        if not answer:
            self.add_error("current", "Type your password, or use a passkey of yours.")
        elif wrong := self._shown(answer):
            self.add_error(None, wrong)
        return cleaned


class PasskeyForm(ProofForm):
    """A new passkey: what it is called, and the proof."""

    name = forms.CharField(
        max_length=40,
        label="What to call it",
        help_text="So that you know it again: the device that keeps it, such as “phone”.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    field_order = ["name", "current", "passkey_answer"]

    def clean_name(self) -> str:
        """Return the name without what nobody sees.

        Raises:
            ValidationError: nothing of it can be seen.
        """
        name = visible(str(self.cleaned_data["name"])).strip()
        if not name:
            raise forms.ValidationError("Nothing of this name can be seen. Type another.")
        return name
