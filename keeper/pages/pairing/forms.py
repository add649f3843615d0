"""Choosing two animals to look up what they give."""

from typing import Any

from django import forms

from keeper.pages.frame.picking import AnimalField


class PairingForm(forms.Form):
    """A dam, a sire, and a number of hatchlings of one's own."""

    dam_code = AnimalField(sex="female", label="Dam")
    sire_code = AnimalField(sex="male", label="Sire", required=False)
    eggs = forms.IntegerField(
        min_value=1,
        max_value=60,
        required=False,
        label="Hatchlings",
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "min": 1, "max": 60}),
    )

    def clean(self) -> dict[str, Any]:
        """Refuse two species."""
        cleaned = super().clean() or {}
        dam, sire = cleaned.get("dam_code"), cleaned.get("sire_code")
        if dam and sire and dam.species_id != sire.species_id:
            self.add_error(
                "sire_code",
                f"{dam} is a {dam.species} and {sire} is a {sire.species}. Choose two of one.",
            )
        return cleaned
