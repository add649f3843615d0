"""One line of text in which somebody says what an animal is."""

from django import forms

from keeper.domain.mates.queries import species_with_genes
from keeper.models import Species


class AskedForm(forms.Form):
    """The species, where there are several, and what the animal is said to be."""

    species = forms.ModelChoiceField(Species.objects.none(), label="Species")
    says = forms.CharField(
        max_length=300,
        label="The animal, as breeders write it",
        help_text="Such as 1.0 visual Saltgrass (HAR), 66 % poss het Quillwort, with the names "
        "and codes of your register. 1.0 is a male, 0.1 a female.",
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}
        ),
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # passed on as they came
        offered = species_with_genes()
        field = self.fields["species"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = offered
        self.offered = list(offered)
        if len(self.offered) == 1:
            field.initial = self.offered[0]
            field.empty_label = None
            field.widget = forms.HiddenInput()
