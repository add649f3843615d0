"""Inputs and selects are written at once, and are what Django's own templates make of them."""

from typing import Any

import pytest
from django import forms
from django.forms.renderers import TemplatesSetting
from django.utils.functional import lazystr
from django.utils.safestring import mark_safe

from keeper.pages.frame.rendering import PageRenderer

_ATTRS = {"min": 0, "placeholder": 'a & "b"', "id": "id_count", "required": True, "hidden": False}
_KINDS = [
    forms.TextInput, forms.NumberInput, forms.HiddenInput, forms.PasswordInput, forms.EmailInput,
    forms.URLInput, forms.SearchInput, forms.TelInput, forms.DateInput, forms.CheckboxInput,
]  # fmt: skip
_CHOICES: list[Any] = [
    ("", "any"),
    (1, "one & <two>"),
    (1200, 1200),
    ("x y", lazystr("said later <b>")),
    ("safe", mark_safe("a<wbr>b")),
    ("several", [(None, "nothing"), ("a'b", 0.5), (True, "yes")]),
]


def written(widget: forms.Widget, value: Any, renderer: TemplatesSetting) -> list[str]:
    """Its lines; those of a template are apart by empty ones."""
    made = str(widget.render("count", value, {"aria-describedby": "id_help"}, renderer))
    return [line for line in made.splitlines() if line]


def both(widget: forms.Widget, value: Any) -> tuple[list[str], list[str]]:
    return written(widget, value, PageRenderer()), written(widget, value, TemplatesSetting())


@pytest.mark.parametrize("kind", _KINDS)
@pytest.mark.parametrize("value", [None, "", 0, 1200, 0.5, '<"quoted">', mark_safe("&amp;"), True])
def test_an_input_is_the_one_of_its_template(kind: type[forms.Widget], value: object) -> None:
    made, usual = both(kind(attrs=_ATTRS), value)
    assert made == usual
    assert made[0].startswith("<input ")


@pytest.mark.parametrize("value", [None, "", 1, "1", "x y", "a'b", "elsewhere", True])
def test_a_select_is_the_one_of_its_template(value: object) -> None:
    made, usual = both(forms.Select(attrs=_ATTRS, choices=_CHOICES), value)
    assert made == usual
    assert sum("<option" in line for line in made) == 8


def test_several_may_be_chosen() -> None:
    made, usual = both(forms.SelectMultiple(choices=_CHOICES), [1, "x y"])
    assert made == usual
    assert sum(" selected" in line for line in made) == 2


@pytest.mark.parametrize("widget", [forms.TextInput(), forms.Select(choices=_CHOICES)])
def test_they_are_written_without_a_template(
    widget: forms.Widget, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = written(widget, "", TemplatesSetting())
    monkeypatch.setattr(TemplatesSetting, "get_template", None)
    assert written(widget, "", PageRenderer()) == usual


@pytest.mark.parametrize("errors", [[], ["Say <how> many."]])
def test_errors_are_listed_as_by_their_template(errors: list[str]) -> None:
    made, usual = (
        str(forms.utils.ErrorList(errors, renderer=renderer)).strip()
        for renderer in (PageRenderer(), TemplatesSetting())
    )
    assert made == usual
    assert ("&lt;how&gt;" in made) == bool(errors)
