"""Logging in, making the owner's account, and the helpers' accounts."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.password_validation import validate_password

from keeper.domain.accounts import writes as accounts
from keeper.models import Account, Role, login_name
from keeper.pages.frame.forms import BookForm


def _password_to_hand_over(label: str) -> forms.CharField:
    """Shown as it is typed: it is going to be read out or written down."""
    return forms.CharField(
        label=label,
        strip=False,
        max_length=200,
        help_text="At least ten characters; a few words in a row are good. Hand it over yourself.",
        widget=forms.TextInput(
            attrs={
                "autocomplete": "off",
                "autocapitalize": "none",
                "spellcheck": "false",
                # No browser keeps it as a draft.
                "data-secret": "",
            }
        ),
    )


def _new_password(label: str = "Password", **kwargs: Any) -> forms.CharField:
    """A password that its owner types, unseen."""
    help_text = "At least ten characters; a few words in a row are good."
    return forms.CharField(
        label=label,
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        **{"help_text": help_text, **kwargs},
    )


def same_twice(form: forms.BaseForm, cleaned: dict[str, Any]) -> dict[str, Any]:
    """Refuse a password that was typed otherwise the second time."""
    if cleaned.get("password") and cleaned["password"] != cleaned.get("again"):
        form.add_error("again", "This is not the same as above. Type both again.")
    return cleaned


class LogInForm(AuthenticationForm):
    """Name and password; which of the two was wrong is not said."""

    error_messages = {
        "invalid_login": "That name and password do not belong together. Check both.",
        "inactive": "This account is switched off. Ask the owner of the book.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Your name in this book"
        self.fields["username"].widget.attrs.update(autocapitalize="none", spellcheck="false")

    def clean_username(self) -> str:
        """Return the name in the one spelling that limits on guessing count by."""
        return login_name(str(self.cleaned_data["username"]))


class CodeForm(forms.Form):
    """The code of the app, or a recovery code."""

    code = forms.CharField(
        label="Code",
        max_length=20,
        help_text="Six figures from your app; or one of your recovery codes.",
        widget=forms.TextInput(
            attrs={
                "autocomplete": "one-time-code",
                "data-secret": "",
                "autocapitalize": "none",
                "spellcheck": "false",
                "autofocus": True,
            }
        ),
    )


class PasswordForm(forms.Form):
    """The password once more, before something that matters."""

    current = forms.CharField(
        label="Your password",
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, *args: Any, right: Callable[[str], bool], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._right = right

    def clean_current(self) -> str:
        """Refuse another password."""
        typed = str(self.cleaned_data["current"])
        if not self._right(typed):
            raise forms.ValidationError("That is not your password. Type it again.")
        return typed


class TurnOnForm(PasswordForm):
    """What turns a second factor on: the password, and a first code as a proof that it works."""

    code = forms.CharField(
        label="The code that the app shows now",
        max_length=20,
        widget=forms.TextInput(
            attrs={
                "autocomplete": "one-time-code",
                "data-secret": "",
                "inputmode": "numeric",
                "spellcheck": "false",
            }
        ),
    )

    field_order = ["code", "current"]


class OwnPasswordForm(PasswordForm):
    """A new password of one's own."""

    password = _new_password()
    again = _new_password("The password once more", help_text="")

    def __init__(self, *args: Any, account: Account, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.account = account

    def clean_password(self) -> str:
        """Refuse passwords that are short, common or made from the name."""
        password = str(self.cleaned_data["password"])
        validate_password(password, self.account)
        return password

    def clean(self) -> dict[str, Any]:
        """Refuse two passwords that differ."""
        return same_twice(self, super().clean() or {})


class ReachForm(forms.Form):
    """How buyers reach whoever issues a sheet."""

    reach = forms.CharField(
        required=False,
        max_length=200,
        label="How buyers reach you",
        help_text="A telephone number, a mail address. It is printed on what you issue, and shown "
        "on its public page. Empty: your name alone.",
    )


class JoinForm(BookForm[Account]):
    """Name and password of whoever comes by an invitation."""

    password = _new_password()
    again = _new_password("The password once more", help_text="")

    class Meta:
        model = Account
        fields = ["name"]
        labels = {"name": "Your name in this book"}
        help_texts = {"name": "It stands beside what you enter."}
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"})
        }

    def clean_password(self) -> str:
        """Refuse passwords that are short, common or made from the name."""
        password = str(self.cleaned_data["password"])
        validate_password(password, Account(name=self.cleaned_data.get("name", "")))
        return password

    def clean(self) -> dict[str, Any]:
        """Refuse two passwords that differ."""
        return same_twice(self, super().clean() or {})


class AllowedForm(forms.Form):
    """What somebody may do and see."""

    role = forms.ChoiceField(
        choices=[
            (Role.HELPER.value, "Helper: reads and writes"),
            (Role.VIEWER.value, "Viewer: reads and writes nothing"),
        ],
        initial=Role.HELPER,
        label="Role",
        widget=forms.RadioSelect,
    )
    sees_people = forms.BooleanField(
        required=False,
        label="Sees people",
        help_text="Sources, buyers and sellers, how to reach them, papers, sheets and prospects.",
    )
    sees_prices = forms.BooleanField(
        required=False, label="Sees prices", help_text="What is asked for animals, or paid."
    )


class InvitationForm(AllowedForm):
    """An invitation: what whoever comes by it may do and see."""

    meant_for = forms.CharField(
        required=False,
        max_length=60,
        label="For whom",
        help_text="So that you know it again; they choose their name themselves.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    field_order = ["meant_for", "role", "sees_people", "sees_prices"]


class SetUpForm(BookForm[Account]):
    """The one-time code, and the owner's name and password."""

    code = forms.CharField(
        label="One-time code",
        max_length=20,
        help_text="Eight letters and figures, printed where you started the book.",
        widget=forms.TextInput(
            attrs={
                "autocomplete": "one-time-code",
                "data-secret": "",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "autofocus": True,
            }
        ),
    )
    password = forms.CharField(
        label="Password",
        strip=False,
        help_text="At least ten characters; a few words in a row are good.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label="The password once more",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    class Meta:
        model = Account
        fields = ["name"]
        labels = {"name": "Your name in this book"}
        help_texts = {"name": "It stands beside what you enter."}
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"})
        }

    field_order = ["code", "name", "password", "again"]

    def clean_code(self) -> str:
        """Refuse a code that is not the one printed in the terminal."""
        typed = str(self.cleaned_data["code"])
        try:
            if accounts.code_matches(typed):
                return typed
        except accounts.CodeSpent as error:
            raise forms.ValidationError(
                "Too many wrong codes. Stop the book and start it again for a new code."
            ) from error
        raise forms.ValidationError(
            "That is not the code printed at the last start. Look in the window "
            "where you started the book."
        )

    def clean_password(self) -> str:
        """Refuse passwords that are short, common or made from the name."""
        password = str(self.cleaned_data["password"])
        validate_password(password, Account(name=self.cleaned_data.get("name", "")))
        return password

    def clean(self) -> dict[str, Any]:
        """Refuse two passwords that differ."""
        cleaned = super().clean() or {}
        if {"password", "again"} <= cleaned.keys() and cleaned["password"] != cleaned["again"]:
            self.add_error("again", "The two passwords differ. Type them again.")
        return cleaned


class HelperForm(BookForm[Account]):
    """A helper's name and first password, which the owner hands over."""

    password = _password_to_hand_over("First password")

    class Meta:
        model = Account
        fields = ["name"]
        labels = {"name": "Name"}
        help_texts = {"name": "It stands beside what they enter."}
        widgets = {"name": forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"})}

    def clean_name(self) -> str:
        """Refuse a name that is taken, however it is spelled."""
        name = str(self.cleaned_data["name"])
        if Account.objects.filter(login_name=login_name(name)).exists():
            raise forms.ValidationError("There is an account of this name already. Choose another.")
        return name

    def clean_password(self) -> str:
        """Refuse passwords that are short, common or made from the name."""
        password = str(self.cleaned_data["password"])
        validate_password(password, Account(name=self.cleaned_data.get("name", "")))
        return password


class NewPasswordForm(forms.Form):
    """A new password for an account."""

    password = _password_to_hand_over("New password")

    def __init__(self, *args: Any, account: Account, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.account = account

    def clean_password(self) -> str:
        """Refuse passwords that are short, common or made from the name."""
        password = str(self.cleaned_data["password"])
        validate_password(password, self.account)
        return password


class BeginForm(forms.Form):
    """How a new book begins."""

    begin = forms.ChoiceField(
        choices=[("empty", "Start empty"), ("example", "Load the Ostrel Yard example")]
    )
