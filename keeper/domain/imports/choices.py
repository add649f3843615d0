"""What the keeper chose for a whole table, as an import's row keeps it."""

from dataclasses import dataclass
from typing import Any

from keeper.models import Import


@dataclass(frozen=True)
class Choices:
    """What holds for every row.

    Attributes:
        species: the id of the species of rows that name none.
        order: of day, month and year; empty: as the columns tell.
        unit: of bare weights, `g` or `oz`; empty: not said.
        visual_seen: whether what is said to be visual on an animal without parents was seen too.
        whole: whether the traits of a row are everything that could be seen.
        fill: whether empty fields of animals in the book are filled.
        fit_codes: whether letters that a code cannot have become a dash.
        codes: how rows without a code get one: `` (they do not), `name` or `series`.
        first_code: the first of the series.
    """

    species: int | None = None
    order: str = ""
    unit: str = ""
    visual_seen: bool = True
    whole: bool = False
    fill: bool = False
    fit_codes: bool = False
    codes: str = ""
    first_code: str = ""


def choices_of(one: Import) -> Choices:
    """Return what the keeper chose so far."""
    kept: dict[str, Any] = {
        name: value for name, value in one.choices.items() if name in Choices.__dataclass_fields__
    }
    return Choices(**kept)
