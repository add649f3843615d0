"""What stands on labels, as the book has it now: plain data for `keeper.paper`."""

from decimal import Decimal
from typing import Any

from keeper.domain.clutches.hatch_plan import look_name
from keeper.domain.labels.addresses import path_of
from keeper.domain.labels.queries import labels_of
from keeper.domain.saying.counts import how_many
from keeper.models import Animal, Clutch, Label, LabelRun, LabelSheet, tub_code

_DAY = "%-d %B %Y"


def content_of(run: LabelRun, *, first: int | None = None) -> dict[str, Any]:
    """Return the pages of a run: measures in millimetres, and of each label its words and address.

    `first` is the label of the first page at which it begins; None: as it was printed.
    """
    return {
        "title": f"{run}"[:1].upper() + f"{run}"[1:],
        "issued": [run.on.year, run.on.month, run.on.day],
        "first": run.first if first is None else first,
        **_measures(run.sheet),
        "labels": [
            {"link": f"{run.address}{path_of(label)}", **words_of(label)}
            for label in labels_of(run)
        ],
    }


def _measures(sheet: LabelSheet) -> dict[str, Any]:
    fields = ("page_width", "page_height", "left", "top", "gap_across", "gap_down")
    said: dict[str, Decimal] = {name: getattr(sheet, name) for name in fields}
    said |= {"width": sheet.width, "height": sheet.height}
    return {
        "across": sheet.across,
        "down": sheet.down,
        **{name: float(one) for name, one in said.items()},
    }


def words_of(label: Label) -> dict[str, Any]:
    """Return what is written on a label: what it is called, large, and some lines below."""
    if label.animal is not None:
        return {"code": label.animal.code, "lines": _of_animal(label.animal)}
    if label.place is not None:
        within = [f"in {label.place.within}"] if label.place.within else []
        return {"code": label.place.name, "lines": [label.place.get_kind_display(), *within]}
    assert label.clutch is not None  # the database keeps it
    if label.tub is not None and label.row is not None:
        seen = [one.trait for one in label.row.sightings.all() if one.seen]
        lines = [look_name(seen), label.row.get_sex_display() if label.row.sex != "unknown" else ""]
        lines.append(_hatched(label.clutch))
        return {
            "code": f"{label.clutch.code} {tub_code(label.tub)}",
            "lines": [*filter(None, lines)],
        }
    return {"code": label.clutch.code, "lines": _of_clutch(label.clutch)}


def _of_animal(animal: Animal) -> list[str]:
    born = f"hatched {animal.hatched_on:{_DAY}}" if animal.hatched_on else ""
    if not born and animal.hatched_year:
        born = f"hatched in {animal.hatched_year}"
    sex = f"{animal.get_sex_display()}, " if animal.sex != "unknown" else ""
    return [*filter(None, (animal.name, f"{sex}{animal.species}", born))]


def _of_clutch(clutch: Clutch) -> list[str]:
    sires = [str(one.sire) for one in clutch.candidates.all() if one.sire is not None]
    eggs = how_many(clutch.eggs, "egg") if clutch.eggs else ""
    laid = f"laid {clutch.laid_on:{_DAY}}" if clutch.laid_on else ""
    due = f"due about {clutch.due_on:{_DAY}}" if clutch.due_on else ""
    pair = " × ".join([str(clutch.dam or "?"), " or ".join(sires) or "?"])
    return [*filter(None, (pair, ", ".join(filter(None, (laid, eggs))), due or _hatched(clutch)))]


def _hatched(clutch: Clutch) -> str:
    return f"hatched {clutch.hatched_on:{_DAY}}" if clutch.hatched_on else ""
