"""Where in the book a record is read: the page it has, or that of the record it belongs to.

And the lists among which a page of several leads.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.urls import NoReverseMatch, reverse

from keeper import models as m

_PAGES: dict[type[m.Record], str] = {
    m.Animal: "animals-one",
    m.Clutch: "clutches-one",
    m.Project: "projects-one",
    m.PlannedPairing: "projects-season-pairing",
    m.Prospect: "animals-prospects-one",
    m.Sheet: "sheets-one",
    m.Sale: "animals-sale",
    m.Trait: "register-trait",
    m.Line: "register-line",
    m.NamedLook: "register-look",
    m.Contact: "register-contact",
    m.Laboratory: "register-laboratory",
    m.Place: "animals-places-one",
}

# Records that are read on another's page: the way to its id, through rows.
_HOMES: dict[type[m.Record], tuple[type[m.Record], str]] = {
    m.Look: (m.Animal, "animal_id"),
    m.Offer: (m.Animal, "animal_id"),
    m.Observation: (m.Animal, "animal_id"),
    m.Statement: (m.Animal, "animal_id"),
    m.Paper: (m.Animal, "animal_id"),
    m.SignedPaper: (m.Animal, "animal_id"),
    m.LabTest: (m.Animal, "animal_id"),
    m.Arising: (m.Animal, "animal_id"),
    m.Photo: (m.Animal, "animal_id"),
    **dict.fromkeys(m.HusbandryRecord.__subclasses__(), (m.Animal, "animal_id")),
    m.CandidateSire: (m.Clutch, "clutch_id"),
    m.BreedingEvent: (m.Animal, "dam_id"),
    m.Incubation: (m.Clutch, "clutch_id"),
    m.ClutchStep: (m.Clutch, "clutch_id"),
    m.HatchRow: (m.Clutch, "clutch_id"),
    m.RowSighting: (m.Clutch, "row__clutch_id"),
    m.Member: (m.Project, "project_id"),
    m.Plan: (m.Project, "project_id"),
    m.PlanStep: (m.Project, "plan__project_id"),
    m.GoalPart: (m.Project, "project_id"),
    m.GoalLook: (m.Project, "project_id"),
    m.LookPart: (m.NamedLook, "look_id"),
    m.ProspectWord: (m.Prospect, "prospect_id"),
}
_ANCHORS: dict[type[m.Record], str] = {
    m.Look: "look",
    m.Observation: "observation",
    m.Statement: "statement",
    m.Paper: "paper",
    m.SignedPaper: "signed-paper",
    m.LabTest: "lab-test",
    m.Photo: "photo",
}


@dataclass(frozen=True)
class RecordLink:
    """A record named in words, with the address where it is read (empty: nowhere)."""

    text: str
    url: str


def link_of(record: m.Record) -> str:
    """Return the address where a record that is in memory is read, or nothing."""
    model = type(record)
    if model not in _HOMES:
        return _page(model, record.pk)
    home, path = _HOMES[model]
    target: Any = record
    for step in path.split("__"):
        target = getattr(target, step)
    return _page(home, target) + _anchor(model, record.pk)


def links_of(named: Iterable[tuple[str, int, str]]) -> list[RecordLink]:
    """Return links of records named by model, id and text: one query a kind, at most."""
    wanted = [(_model(name), pk, text) for name, pk, text in named]
    homes: dict[type[m.Record], dict[int, int]] = {}
    for model in {model for model, _, _ in wanted if model in _HOMES}:
        ids = [pk for one, pk, _ in wanted if one is model]
        rows: Any = model._base_manager.filter(pk__in=ids).values_list("pk", _HOMES[model][1])
        homes[model] = dict(rows)
    return [RecordLink(text, _address(model, pk, homes)) for model, pk, text in wanted]


def _address(model: type[m.Record], pk: int, homes: dict[type[m.Record], dict[int, int]]) -> str:
    if model not in _HOMES:
        return _page(model, pk)
    home = homes[model].get(pk)
    return _page(_HOMES[model][0], home) + _anchor(model, pk) if home else ""


def _model(name: str) -> type[m.Record]:
    model: Any = apps.get_model("keeper", name.rpartition(".")[2])
    return model  # type: ignore[no-any-return]


def _anchor(model: type[m.Record], pk: int) -> str:
    return f"#{_ANCHORS[model]}-{pk}" if model in _ANCHORS else ""


def _page(model: type[m.Record], pk: int | None) -> str:
    try:
        return reverse(_PAGES[model], args=[pk])
    except (KeyError, NoReverseMatch):
        return ""


@dataclass(frozen=True)
class State:
    """One of the lists of a page, with how many stand in it."""

    key: str
    label: str
    count: int
    is_shown: bool
