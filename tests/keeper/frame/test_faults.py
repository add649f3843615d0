"""A form that comes back says on top what is wrong; nothing typed is lost."""

import re

import pytest
from django import forms
from django.test import Client
from django.urls import reverse

from keeper.pages.frame.faults import Fault, faults_of
from tests.factories import AnimalFactory, ContactFactory
from tests.guards.tree import files, name_of


class _Row(forms.Form):
    seen = forms.ChoiceField(choices=[("y", "yes"), ("n", "no")], widget=forms.RadioSelect)
    day = forms.DateField(label="When")


def test_every_fault_leads_to_what_takes_the_focus() -> None:
    form = _Row({"a-day": "soon"}, prefix="a")
    form.is_valid()
    form.add_error(None, "Not today.")
    assert faults_of([form]).listed == (
        Fault("Seen: This field is required.", "id_a-seen_0"),
        Fault("When: Enter a valid date.", "id_a-day"),
        Fault("Not today.", ""),
    )


def test_rows_are_named_by_their_number() -> None:
    rows = forms.formset_factory(_Row, extra=2)(
        {"form-TOTAL_FORMS": "2", "form-INITIAL_FORMS": "0", "form-1-seen": "y"}
    )
    assert not rows.is_valid()
    assert faults_of([[rows], None]).listed == (
        Fault("When, row 2: This field is required.", "id_form-1-day"),
    )


def test_what_is_right_says_nothing() -> None:
    assert not faults_of([_Row(), _Row({"seen": "y", "day": "2026-06-01"})])


@pytest.mark.parametrize("page", ["clutches-new", "animals-new", "register-contact-new"])
def test_form_that_came_back_begins_with_its_faults(owner_client: Client, page: str) -> None:
    sent = {"notes": "Kept <as> typed", "laid_on": "soon", "hatched_on": "soon"}
    shown = owner_client.post(reverse(page), sent).content.decode()
    top, _, rest = shown.partition('id="faults" tabindex="-1" autofocus')
    assert rest and "<form" in top and "Kept &lt;as&gt; typed" in rest
    targets = re.findall(r'<a href="#(id_[^"]+)"', rest)
    assert targets and all(f'id="{one}"' in rest for one in targets)
    assert 'id="faults"' not in owner_client.get(reverse(page)).content.decode()


def test_register_form_says_what_no_field_shows(owner_client: Client) -> None:
    contact = ContactFactory.create(name="Ansel")
    answer = owner_client.post(
        reverse("register-contact-edit", args=[contact.pk]), {"name": "", "reliability": "many"}
    )
    shown = answer.content.decode()
    assert "Not saved yet: 2 things to mend" in shown
    assert '<a href="#id_name">Name: This field is required.</a>' in shown


def test_faults_stand_in_every_form_that_is_typed_into() -> None:
    """A template that shows fields shows their faults too, itself or in a part of it."""
    parts = {
        "clutches/fields.html", "clutches/cells.html", "animals/parts/fields.html",
        "animals/parts/look_fields.html", "animals/parts/said_row.html",
        "animals/parts/seen_row.html", "prospects/word_row.html", "components/form.html",
    }  # fmt: skip
    silent = []
    for path in files(".html", under="templates/"):
        text, name = path.read_text(encoding="utf-8"), name_of(path).removeprefix("templates/")
        for form in re.findall(r"<form\b.*?</form>", text, re.S):
            writes = 'method="post"' in form and "{% once" in form
            shown = "as_field_group" in form or re.search(r"{% include \"[a-z/_]*fields", form)
            says = (
                "{% faults" in form
                or "{{ form }}" in form
                or any(
                    "{% faults" in part.read_text(encoding="utf-8")
                    for part in files(".html", under="templates/")
                    if name_of(part).removeprefix("templates/") in parts
                    and f'"{name_of(part).removeprefix("templates/")}"' in form
                )
            )
            if writes and shown and not says:
                silent.append(name)
    assert silent == []


@pytest.mark.parametrize(
    ("typed", "said"), [("2026-11-29", "Sunday, 29 November 2026"), ("soon", ""), ("", "")]
)
def test_day_is_said_in_words_beside_its_field(owner_client: Client, typed: str, said: str) -> None:
    shown = owner_client.post(reverse("clutches-new"), {"laid_on": typed}).content.decode()
    assert re.findall(r"<span class=.day-words. data-day-words>(.*?)</span>", shown) == [said]


def test_log_in_that_failed_is_said_on_top(client: Client, owner_client: Client) -> None:
    AnimalFactory.create()
    shown = client.post(reverse("log-in"), {"username": "Mara", "password": "wrong"})
    assert 'id="faults"' in shown.content.decode()
