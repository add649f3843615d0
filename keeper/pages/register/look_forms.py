"""A look of several genes: its name, and the traits that make it."""

from typing import Any

from django import forms

from keeper.domain.register.named_looks import SeenPart
from keeper.models import Line, LookPart, NamedLook, Species, Trait
from keeper.pages.frame.forms import BookForm

_ROWS, _MOST = 3, 12


class LookForm(BookForm[NamedLook]):
    """What a look is called."""

    class Meta:
        model = NamedLook
        fields = ["name", "notes"]
        labels = {"name": "Name of the look"}
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}


class SeenForm(forms.Form):
    """One trait that must be seen: of any of its lines, or of one."""

    seen = forms.ChoiceField(required=False, label="Trait that is seen")

    def __init__(self, *args: Any, choices: list[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["seen"]
        field.choices = choices


class SeenRows:
    """The rows of a look, some of them empty.

    `sent` says how many rows the page had that was sent, `rows` how many are wanted now.
    """

    def __init__(
        self,
        data: Any = None,
        *,
        species: Species,
        parts: list[LookPart],
        sent: int = 0,
        rows: int = 0,
    ) -> None:
        self.traits = {
            one.pk: one for one in Trait.objects.live().filter(species=species).order_by("name")
        }
        lines = Line.objects.live().filter(trait__in=self.traits).select_related("trait")
        self.lines = {one.pk: one for one in lines.order_by("code")}
        chosen = _chosen(parts)
        count = min(_MOST, max(rows, sent or max(len(chosen), _ROWS)))
        self.more = count + 1 if count < _MOST else None
        self.rows = [
            SeenForm(
                data if number < (sent or count) else None,
                prefix=f"row{number}",
                choices=self._choices(),
                initial={"seen": chosen[number]} if number < len(chosen) else None,
            )
            for number in range(count)
        ]

    def _choices(self) -> list[Any]:
        found = [("", "choose")]
        for trait in self.traits.values():
            own = [one for one in self.lines.values() if self._shows(one, trait)]
            found.append((str(trait.pk), f"{trait}, any line" if own else str(trait)))
            found += [(f"{trait.pk}-{one.pk}", f"{trait} {one.code}") for one in own]
        return found

    @staticmethod
    def _shows(line: Line, trait: Trait) -> bool:
        return line.trait_id == (trait.base_id or trait.pk)

    def parts(self) -> list[SeenPart]:
        """Return the traits chosen; of one that is chosen by several lines, with all of them."""
        lines: dict[int, list[int]] = {}
        for row in self.rows:
            trait, _, line = row.cleaned_data["seen"].partition("-")
            if trait:
                lines.setdefault(int(trait), []).append(int(line or 0))
        # "Any line" is more than some of them.
        return [
            SeenPart(
                self.traits[pk], () if 0 in some else tuple(self.lines[one] for one in set(some))
            )
            for pk, some in lines.items()
        ]


def _chosen(parts: list[LookPart]) -> list[str]:
    found = []
    for part in parts:
        lines = sorted(one.pk for one in part.lines.all() if not one.is_withdrawn)
        found += [f"{part.trait_id}-{line}" for line in lines] or [str(part.trait_id)]
    return found
