"""Inputs of the hatch form are written at once, and are what Django's own are."""

import pytest
from django import forms
from django.forms.widgets import Input

from keeper.pages.clutches.hatch_forms import QuickNumber, QuickText


@pytest.mark.parametrize(
    ("quick", "usual"), [(QuickNumber, forms.NumberInput), (QuickText, forms.TextInput)]
)
@pytest.mark.parametrize("value", [None, "", 0, 1200, '<"quoted">'])
def test_input_is_the_one_of_its_template(
    quick: type[Input], usual: type[Input], value: object
) -> None:
    attrs = {"min": 0, "placeholder": "a & b", "id": "id_count", "required": True, "hidden": False}
    made, other = (
        widget(attrs=attrs).render("count", value, {"aria-describedby": "id_help"})
        for widget in (quick, usual)
    )
    assert sorted(made.strip("<>").split()) == sorted(other.strip("<>\n").split())
