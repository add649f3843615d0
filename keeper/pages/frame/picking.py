"""Naming an animal in a form by its code, among thousands."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.urls import reverse

from keeper.domain.animals.queries import by_code, picks
from keeper.domain.book.typed import row_number, typed
from keeper.models import Animal, Sex

_UNKNOWN = "No animal has the code “{code}”. Check it, or add the animal first."


class AnimalInput(forms.TextInput):
    """A field for a code, with the codes that fit listed as it is typed."""

    template_name = "clutches/animal_input.html"

    def __init__(self, sex: str, attrs: dict[str, Any] | None = None) -> None:
        plain = {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        super().__init__({**plain, **(attrs or {})})
        self.sex = sex
        # What is listed before anything is typed; fields of one form may share it.
        self.offered: Iterable[Animal] | None = None

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """Add the list of animals and where more of it comes from."""
        context = super().get_context(name, value, attrs)
        offered = self.offered
        # Of a code that stands there nothing more is offered until another is typed.
        if offered is None:
            offered = () if value else picks("", sex=self.sex)
        context["picks"] = offered
        context["pick_url"] = f"{reverse('clutches-pick')}?sex={self.sex}&field={name}"
        context["list_id"] = f"{context['widget']['attrs'].get('id', name)}_list"
        return context


def animal_of(code: str) -> Animal:
    """Return the animal with a code that was typed, however it is capitalised.

    Raises:
        ValidationError: there is none.
    """
    found = by_code(code)
    if found is None:
        raise ValidationError(_UNKNOWN.format(code=code))
    return found


class AnimalField(forms.CharField):
    """An animal of one sex, named by its code."""

    def __init__(self, *, sex: str, **kwargs: Any) -> None:
        self.sex = sex
        super().__init__(max_length=24, widget=AnimalInput(sex), **kwargs)

    def clean(self, value: Any) -> Any:
        """Return the animal.

        Raises:
            ValidationError: there is none with this code, or it is of another sex.
        """
        code = super().clean(typed(value) if isinstance(value, str) else value)
        if not code:
            return None
        animal = by_code(code)
        if animal is None:
            near = ", ".join(str(one) for one in picks(code, sex=self.sex, limit=4))
            if near:
                raise ValidationError(f"No animal has the code “{code}”. Did you mean {near}?")
            raise ValidationError(_UNKNOWN.format(code=code))
        if animal.sex != self.sex:
            raise ValidationError(
                f"{animal} is not recorded as {self.sex}. Correct its sex, or choose another.",
                code="other sex" if animal.sex != Sex.UNKNOWN else "sex",
            )
        return animal

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare by code."""
        code = initial.code if isinstance(initial, Animal) else initial or ""
        return str(code) != str(data or "").strip()

    def prepare_value(self, value: Any) -> Any:
        """Show an animal as its code."""
        return value.code if isinstance(value, Animal) else value


def animal_named(value: str | None, *, sex: str) -> Animal | None:
    """Return the live animal whose number an address gives, or none."""
    found = Animal.objects.live().filter(pk=row_number(value), sex=sex)
    return found.select_related("species").first()


def offer_swap(form: forms.BaseForm, dam: str, sire: str) -> None:
    """Offer to swap dam and sire where each that was typed is of the other's sex."""
    given = {name: str(form.data.get(form.add_prefix(name), "")).strip() for name in (dam, sire)}
    wrong = [name for name in given if form.has_error(name, "other sex")]
    if not wrong or any(code and name not in wrong for name, code in given.items()):
        return
    says = f"Swap them: dam {given[sire] or 'not named'}, sire {given[dam] or 'not named'}"
    error = form.errors.as_data()[wrong[0]][0]
    error.params = {"offers": {says: {dam: given[sire], sire: given[dam]}}}
