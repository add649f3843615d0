"""Hatch day's form: counts by look and sex that must add up, and who gets a record."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any

from django import forms
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import SafeString

from keeper.domain.animals.queries import by_code
from keeper.domain.book.writing import Refused
from keeper.domain.clutches.hatch_plan import SEXES, HatchLook, HatchPlan
from keeper.domain.clutches.hatching import Counted, Hatch, does_not_add_up, hatchling_codes
from keeper.domain.clutches.queries import entries_of, free_codes
from keeper.domain.saying.already import at, writer
from keeper.models import Animal, Clutch, HatchRow, Sex
from keeper.pages.frame.fields import PART, WHOLE, day_input, scope_field
from keeper.pages.frame.forms import BookForm

_LABELS = {Sex.MALE: "male", Sex.FEMALE: "female", Sex.UNKNOWN: "sex not known"}
OTHER = "other"


def _count(label: str, initial: int | None = None) -> forms.IntegerField:
    attrs = {"inputmode": "numeric", "min": 0, "placeholder": "0"}
    return forms.IntegerField(
        min_value=0,
        max_value=500,
        required=False,
        label=label,
        initial=initial,
        widget=forms.NumberInput(attrs=attrs),
    )


@dataclass(frozen=True)
class Cell:
    """The fields of one look and sex."""

    sex: Sex
    label: str
    count: forms.BoundField
    record: forms.BoundField
    first: forms.BoundField
    own: list[Animal]


@dataclass(frozen=True)
class LookFields:
    """A look with its fields, one cell a sex, or what they are as long as all are empty."""

    look: HatchLook | None
    cells: list[Cell]
    empty: SafeString | None = None

    @property
    def opens(self) -> bool:
        """Whether the fields for records must be in sight."""
        return any(
            one.value() or one.errors for cell in self.cells for one in (cell.record, cell.first)
        )


class HatchForm(forms.Form):
    """What hatched. Its looks come from the plan."""

    hatched_on = forms.DateField(label="Hatched on", widget=day_input())
    eggs = _count("Eggs laid")
    slugs = _count("Slugs")
    lost = _count("Lost in the egg")
    still_open = forms.BooleanField(required=False, label="More may still hatch")
    record_all = forms.BooleanField(
        required=False, label="Give every hatchling a record of its own"
    )
    other_seen = forms.MultipleChoiceField(
        required=False, label="Seen", widget=forms.CheckboxSelectMultiple
    )
    other_unsure = forms.MultipleChoiceField(
        required=False, label="Cannot tell", widget=forms.CheckboxSelectMultiple
    )
    scope = scope_field()
    reason = forms.CharField(
        required=False,
        max_length=200,
        label="Why",
        help_text="Where this corrects what was logged. Kept in the daybook.",
    )
    basis = forms.CharField(required=False, max_length=4000)

    def __init__(self, *args: Any, clutch: Clutch, plan: HatchPlan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.clutch, self.plan = clutch, plan
        self.fields["hatched_on"].initial = timezone.localdate()
        self.fields["eggs"].initial = clutch.eggs
        self.fields["slugs"].initial = clutch.slugs or None
        self.fields["lost"].initial = clutch.lost or None
        if plan.rows:
            self.fields["scope"].initial = WHOLE if all(one.whole for one in plan.rows) else PART
        names = [(str(trait.pk), trait.name) for trait in plan.traits]
        for field in ("other_seen", "other_unsure"):
            choices: Any = self.fields[field]
            choices.choices = names
        for look in plan.looks:
            self._add_cells(look.key, look.name, look.rows)
        self._add_cells(OTHER, "another look", {})

    def _add_cells(self, key: str, name: str, rows: dict[Sex, HatchRow]) -> None:
        for sex in SEXES:
            row = rows.get(sex)
            of = f"{name}, {_LABELS[sex]}"
            self.fields[f"{key}-{sex}-count"] = _count(of, row.count if row else None)
            self.fields[f"{key}-{sex}-record"] = _count(f"Records for {of}")
            self.fields[f"{key}-{sex}-first"] = forms.CharField(
                required=False, max_length=24, label=f"First code for {of}"
            )

    # --- for the page ----------------------------------------------------------------------

    def look_fields(self) -> list[LookFields]:
        """Return the looks with their fields."""
        return [
            LookFields(look, self._cells(look.key, look.rows))
            if self.is_bound or look.rows
            else LookFields(look, [], self._empty_cells(look.key))
            for look in self.plan.looks
        ]

    @cached_property
    def next_code(self) -> str:
        """The code from which records count on."""
        return free_codes(self.clutch, 1)[0]

    def _empty_cells(self, key: str) -> SafeString:
        """The cells of a look of which nothing is logged: of dozens only names differ."""
        # A quotation mark that is typed stands as an entity, so that none but names are met.
        named = self.other_cells.replace(f'"{OTHER}-', f'"{key}-')
        return SafeString(named.replace(f'"id_{OTHER}-', f'"id_{key}-'))

    @cached_property
    def other_cells(self) -> SafeString:
        """The cells of the look that is chosen freely."""
        line = LookFields(None, self._cells(OTHER, {}))
        return render_to_string("clutches/cells.html", {"line": line, "form": self})

    @property
    def egg_fields(self) -> list[forms.BoundField]:
        """The fields that count eggs."""
        return [self["eggs"], self["slugs"], self["lost"]]

    @property
    def other_opens(self) -> bool:
        """Whether the free look must be in sight."""
        names = ("other_seen", "other_unsure", *(f"{OTHER}-{sex}-count" for sex in SEXES))
        return any(self[name].value() or self[name].errors for name in names)

    def _cells(self, key: str, rows: dict[Sex, HatchRow]) -> list[Cell]:
        return [
            Cell(
                sex,
                _LABELS[sex],
                self[f"{key}-{sex}-count"],
                self[f"{key}-{sex}-record"],
                self[f"{key}-{sex}-first"],
                list(rows[sex].recorded.all()) if sex in rows else [],
            )
            for sex in SEXES
        ]

    @property
    def _who(self) -> str:
        """Who logged what of the clutch meanwhile."""
        last = next(iter(entries_of(self.clutch)), None)
        said = f": {writer(last)}, {at(last)}, “{last.told}”" if last is not None else ""
        return f"Something of this clutch was logged while this page was open{said}."

    # --- checks ----------------------------------------------------------------------------

    def clean(self) -> dict[str, Any]:
        """Check that all adds up, and build the hatch."""
        cleaned = super().clean() or {}
        if cleaned.get("basis") != self.plan.basis:
            self.add_error(
                None, f"{self._who} What you typed is kept: compare it, then save again."
            )
        if (day := cleaned.get("hatched_on")) and day > timezone.localdate():
            self.add_error(
                "hatched_on", "That day is still to come. Enter today or an earlier day."
            )
        rows = [*self._counted(cleaned), *self._other(cleaned)]
        if self.errors:
            return cleaned
        hatch = Hatch(
            on=cleaned["hatched_on"],
            eggs=cleaned["eggs"],
            slugs=cleaned["slugs"] or 0,
            lost=cleaned["lost"] or 0,
            rows=rows,
            still_open=cleaned["still_open"],
        )
        self._check_sums(hatch)
        cleaned["hatch"] = hatch
        return cleaned

    def _check_sums(self, hatch: Hatch) -> None:
        if (fault := does_not_add_up(hatch)) is not None:
            self.add_error(None, fault)
        elif not (hatch.hatched or hatch.slugs or hatch.lost or hatch.eggs):
            self.add_error(None, "Nothing is counted yet: say what hatched, or what became of it.")
        try:
            hatchling_codes(self.clutch, hatch.rows)
        except Refused as refused:
            self.add_error(None, str(refused))

    def _counted(self, cleaned: dict[str, Any]) -> Iterator[Counted]:
        for look in self.plan.looks:
            yield from self._of_look(cleaned, look.key, look.seen_ids, look.unseen, rows=look.rows)

    def _other(self, cleaned: dict[str, Any]) -> Iterator[Counted]:
        """Read the look that was chosen freely."""
        seen = frozenset(map(int, cleaned.get("other_seen", [])))
        unsure = frozenset(map(int, cleaned.get("other_unsure", [])))
        if seen & unsure:
            self.add_error("other_unsure", "A trait that was seen can be told. Take it out here.")
        unseen = self.plan.scored - seen - unsure
        found = list(self._of_look(cleaned, OTHER, seen, unseen, unsure=unsure))
        if found and not seen and not unsure:
            self.add_error("other_seen", "Say what was seen on them, or what cannot be told.")
        usual = next((one for one in self.plan.looks if one.seen_ids == seen), None)
        twice = seen & unsure or unsure & (usual.unseen if usual else frozenset())
        if found and usual and (seen or unsure) and not twice:
            self.add_error("other_seen", f"{usual.name} stands above: count them there.")
        if (seen or unsure) and not found and not self.errors:
            self.add_error(f"{OTHER}-{Sex.UNKNOWN}-count", "Say how many look so.")
        yield from found

    def _of_look(
        self,
        cleaned: dict[str, Any],
        key: str,
        seen: frozenset[int],
        unseen: frozenset[int],
        *,
        unsure: frozenset[int] = frozenset(),
        rows: Mapping[Sex, HatchRow] = MappingProxyType({}),
    ) -> Iterator[Counted]:
        scope, before = cleaned.get("scope"), self.fields["scope"].initial
        for sex in SEXES:
            row = rows.get(sex)
            # A row keeps what it was unless the keeper says now that it was otherwise.
            whole = row.whole if row is not None and scope == before else scope == WHOLE
            own = len(row.recorded.all()) if row else 0
            count = cleaned.get(f"{key}-{sex}-count") or 0
            record = cleaned.get(f"{key}-{sex}-record") or 0
            if count < own:
                said = f"{own} of these have a record already: the count cannot be below {own}."
                self.add_error(f"{key}-{sex}-count", said)
            elif record > count - own:
                said = f"Only {count - own} of these can still get a record."
                self.add_error(f"{key}-{sex}-record", said)
            if cleaned.get("record_all"):
                record = max(0, count - own)
            first = cleaned.get(f"{key}-{sex}-first") or ""
            if count or row is not None:
                first = first if record else ""
                yield Counted(
                    seen, unseen, sex, count, row, record, first, unsure=unsure, whole=whole
                )


class RecordForm(BookForm[Animal]):
    """A hatchling of a tally that gets a record of its own."""

    class Meta:
        model = Animal
        fields = ["code", "sex", "sex_told", "hatched_on", "name", "place", "notes"]
        widgets = {
            "hatched_on": day_input(),
            "notes": forms.Textarea(attrs={"rows": 2}),
            "sex": forms.RadioSelect,
        }
        labels = {"hatched_on": "Hatched on", "sex_told": "How its sex was told"}

    def __init__(self, *args: Any, row: HatchRow, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["hatched_on"].required = True
        if row.sex != Sex.UNKNOWN:
            # It was counted so; another sex would be another row.
            del self.fields["sex"]
            self.instance.sex = row.sex

    def clean_code(self) -> str:
        """Refuse a code that another animal has."""
        code = str(self.cleaned_data["code"]).strip()
        if by_code(code) is not None:
            raise forms.ValidationError(f"The code {code} is in use already. Choose another.")
        return code
