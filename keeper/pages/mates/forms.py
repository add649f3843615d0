"""One line of text in which somebody says what an animal is."""

from django import forms

from keeper.domain.mates.queries import most_kept, species_with_genes
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
        # Most ask about what is kept most; it can be chosen otherwise.
        field.initial = most_kept(self.offered)
        field.required = False
        if len(self.offered) == 1:
            # There is nothing to choose.
            field.widget = forms.HiddenInput()

    def clean_species(self) -> Species | None:
        """Take the species that is kept most where none is chosen."""
        chosen: Species | None = self.cleaned_data["species"]
        return chosen or most_kept(self.offered)
