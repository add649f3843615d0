"""What the book refuses lands in the form that asked, with everything typed kept."""

from typing import Any

import pytest
from django import forms
from django.core.exceptions import ValidationError
from django.test import Client

from keeper.models import Interval, Survival
from keeper.pages.frame.refusals import take_error
from tests.factories import LineFactory, SpeciesFactory


class _Code(forms.Form):
    code = forms.CharField()


class _Day(forms.Form):
    day = forms.CharField()


@pytest.fixture
def asked() -> tuple[_Code, _Day]:
    code, day = _Code({"code": "F-1"}), _Day({"day": "today"})
    assert code.is_valid() and day.is_valid()
    return code, day


def test_refusal_lands_at_its_field_in_whichever_form_has_it(asked: tuple[_Code, _Day]) -> None:
    code, day = asked
    take_error(code, ValidationError({"code": "Taken.", "day": "Too late."}), day)
    assert (_told(code), _told(day)) == ({"code": ["Taken."]}, {"day": ["Too late."]})


def test_refusal_of_what_no_field_asks_for_stands_above_the_first_form(
    asked: tuple[_Code, _Day],
) -> None:
    code, day = asked
    take_error(code, ValidationError({"sire": "None.", "__all__": "Not both."}), day)
    assert (_told(code), _told(day)) == ({"__all__": ["None.", "Not both."]}, {})


def test_refusal_as_a_whole_stands_above_the_form(asked: tuple[_Code, _Day]) -> None:
    take_error(asked[0], ValidationError("Not today."))
    assert _told(asked[0]) == {"__all__": ["Not today."]}


def test_refusal_lands_at_the_field_that_asks_for_it_by_another_name(
    asked: tuple[_Code, _Day],
) -> None:
    take_error(asked[0], ValidationError({"animal": "Not here."}), at={"animal": "code"})
    assert _told(asked[0]) == {"code": ["Not here."]}


def _told(form: forms.BaseForm) -> dict[str, list[str]]:
    return {name: [str(error) for error in errors] for name, errors in form.errors.items()}


@pytest.mark.parametrize("chance", ["", "perhaps"])
def test_link_without_its_loci_is_asked_for_again(owner_client: Client, chance: str) -> None:
    species = SpeciesFactory.create()
    answer = owner_client.post(
        f"/register/species/{species.pk}/links/new/", {"female": chance, "male": "10 %"}
    )
    assert answer.status_code == 200
    assert _fields_with_errors(answer) == {"left", "right", "female"}
    assert 'value="10 %"' in answer.content.decode()
    assert not Interval.objects.exists()


def test_survival_without_its_line_is_asked_for_again(owner_client: Client) -> None:
    line = LineFactory.create()
    answer = owner_client.post(
        f"/register/loci/{line.locus_id}/survivals/new/", {"survival": "20 %", "source": "Ansel"}
    )
    assert answer.status_code == 200
    assert _fields_with_errors(answer) == {"one"}
    assert 'value="20 %"' in answer.content.decode() and "Ansel" in answer.content.decode()
    assert not Survival.objects.exists()


def _fields_with_errors(answer: Any) -> set[str]:
    return {name for form in answer.context["page"].forms for name in form.errors}
