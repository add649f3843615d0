"""Sending an archive."""

from django import forms


class ArchiveForm(forms.Form):
    """The file of an archive."""

    archive = forms.FileField(
        label="Archive",
        help_text="The ZIP file as Keptlines made it.",
        widget=forms.FileInput(attrs={"accept": ".zip,application/zip"}),
    )
