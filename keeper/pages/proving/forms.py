"""What the list of what to prove can be narrowed by."""

from typing import Any

from django import forms

from keeper.domain.projects.queries import open_projects
from keeper.models import Shown, Trait


class ProvingForm(forms.Form):
    """One project, one trait, or all."""

    project = forms.ModelChoiceField(
        open_projects().none(), required=False, label="Project", empty_label="any"
    )
    trait = forms.ModelChoiceField(
        Trait.objects.none(), required=False, label="Trait", empty_label="any"
    )

    def __init__(self, data: Any) -> None:
        super().__init__(data, label_suffix="")
        fields: Any = self.fields
        fields["project"].queryset = open_projects().order_by("name", "pk")
        traits = Trait.objects.live().exclude(shown=Shown.EVERY)
        fields["trait"].queryset = traits.order_by("name", "pk")

    def chosen(self, name: str) -> int | None:
        """Return the id of what was chosen; what is not there is passed over."""
        self.is_valid()
        found = self.cleaned_data.get(name)
        return None if found is None else found.pk
