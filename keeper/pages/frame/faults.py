"""What is wrong with the forms of a page, said on top of them: each fault with its field."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS

from keeper.domain.book import submission


@dataclass(frozen=True)
class Fault:
    """One fault: in words, and the id of the field it is about (empty: of the form as a whole)."""

    said: str
    field: str = ""


@dataclass(frozen=True)
class Offer:
    """Something to take instead of what was typed: what the button says, what it sends."""

    says: str
    sends: str


@dataclass(frozen=True)
class Faults:
    """What stands above a form that came back.

    Attributes:
        listed: what is wrong.
        asked: what looks odd, in the book's words; can be insisted on.
        offers: what may be taken instead, one tap each.
        insist: what a button sends that insists on all that is asked.
    """

    listed: tuple[Fault, ...]
    asked: tuple[str, ...]
    offers: tuple[Offer, ...]
    insist: str

    def __bool__(self) -> bool:
        """Whether there is anything to say."""
        return bool(self.listed or self.asked)


def faults_of(listed: Iterable[object]) -> Faults:
    """Return what is wrong with some forms; lists, formsets and what is no form are seen through.

    What the book asks stands there only where nothing is wrong: it was not asked otherwise.
    """
    found = list(_forms(listed))
    sent = submission.current()
    asked = tuple(sent.asked) if sent is not None else ()
    return Faults(
        tuple(fault for form, row in found for fault in _faults(form, row)),
        tuple(one.said for one in asked),
        tuple(offer for form, _ in found for offer in _offers(form)),
        " ".join(one.key for one in asked),
    )


def _forms(listed: Iterable[object]) -> Iterator[tuple[Any, str]]:
    """Yield each form with what its row is called, and each formset with its own faults."""
    for one in listed:
        if isinstance(one, list | tuple):
            yield from _forms(one)
        elif isinstance(one, forms.BaseFormSet):
            yield one, ""
            for number, row in enumerate(one.forms, start=1):
                yield row, f"row {number}"
        elif isinstance(one, forms.BaseForm):
            yield one, ""


def _faults(form: Any, row: str) -> Iterator[Fault]:
    if isinstance(form, forms.BaseFormSet):
        yield from (Fault(str(error)) for error in form.non_form_errors())
        return
    for name, errors in form.errors.items():
        whole = name == NON_FIELD_ERRORS
        called = ", ".join(filter(None, ["" if whole else str(form[name].label), row]))
        target = "" if whole or form[name].is_hidden else _first_of(form[name])
        if whole and row:
            target = _first_of(next(iter(form)))
        for error in errors:
            yield Fault(f"{called}: {error}" if called else str(error), target)


def _first_of(field: forms.BoundField) -> str:
    """The id of what takes the focus: of several choices the first."""
    several = isinstance(field.field.widget, forms.RadioSelect | forms.CheckboxSelectMultiple)
    return f"{field.auto_id}_0" if several and len(field) else str(field.id_for_label)


def _offers(form: Any) -> Iterator[Offer]:
    if isinstance(form, forms.BaseFormSet):
        return
    for name, errors in form.errors.as_data().items():
        for error in errors:
            for says, values in ((error.params or {}).get("offers") or {}).items():
                pairs = values.items() if isinstance(values, dict) else [(name, values)]
                yield Offer(says, submission.instead(
                    (form.add_prefix(field), value) for field, value in pairs
                ))  # fmt: skip
