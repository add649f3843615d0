"""Evidence as a reader knows them: the row, what it says, and the day of it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import Prefetch, QuerySet

from keeper import models as m
from keeper.domain.inference.questions.asking import Subproblem
from keeper.domain.inference.reading.looks import Source
from keeper.domain.inference.reading.showed import alike, showed
from keeper.domain.inference.workings.bought import words_with
from keeper.domain.inference.workings.evidence import Evidence
from keeper.domain.saying.figures import percent
from keeper.domain.saying.wording import claim_said
from keeper.models import Trait


@dataclass(frozen=True)
class Described:
    """A item in words. `on` is the day of what it tells; None: not known, or the pedigree."""

    record: m.Record
    text: str
    on: date | None


def described(
    part: Subproblem, listed: Iterable[Evidence], animal: m.Animal, trait: Trait
) -> list[Described]:
    """Describe the evidence behind a number of an animal; the queries do not grow with it."""
    listed = list(listed)
    rows = rows_of(item.source for item in listed)
    told = [_described(part, item, rows[item.source], trait) for item in listed]
    with_it = words_with(part, animal.code)
    for place, item in enumerate(listed):
        row, wrong = rows[item.source], with_it.get(item.source)
        if isinstance(row, m.Statement) and wrong is not None:
            whose = f"the word on {row.animal}, bought with it"
            how = f"{whose}, was wrong" if wrong else whose
            told[place] = replace(told[place], text=f"{how}: {told[place].text}")
    return told


def rows_of(sources: Iterable[Source]) -> dict[Source, m.Record]:
    """The rows themselves, with all that their words need: one query a kind."""
    wanted: dict[str, set[int]] = defaultdict(set)
    for kind, pk in sources:
        wanted[kind].add(pk)
    found: dict[Source, m.Record] = {}
    for kind, pks in wanted.items():
        for row in _rows(kind).filter(pk__in=pks):
            found[kind, row.pk] = row
    return found


def _rows(kind: str) -> QuerySet[m.Record]:
    candidates = Prefetch(
        "candidates", m.CandidateSire.objects.live().select_related("sire"), to_attr="live_sires"
    )
    lookups: Mapping[str, QuerySet[m.Record]] = {
        "animal": m.Animal._base_manager.select_related("dam", "sire"),
        "clutch": m.Clutch._base_manager.select_related("dam").prefetch_related(candidates),
        "statement": m.Statement._base_manager.select_related(
            "animal", "trait", "line", "source", "paper"
        ),
        "observation": m.Observation._base_manager.select_related("animal", "trait"),
        "look": m.Look._base_manager.select_related("animal"),
        "hatchrow": m.HatchRow._base_manager.select_related("clutch"),
        "labtest": m.LabTest._base_manager.select_related("animal", "line__trait", "laboratory"),
        "arising": m.Arising._base_manager.select_related("animal", "line__trait"),
    }
    return lookups[kind]


def _described(part: Subproblem, item: Evidence, row: m.Record, trait: Trait) -> Described:
    if isinstance(row, m.Clutch) and item.hatchlings:
        return Described(row, _hatched(part, row, trait), row.hatched_on or row.laid_on)
    if isinstance(row, m.Statement):
        paper = row.paper.dated if row.paper else None
        return Described(row, _stated(row), row.on or paper or row.animal.acquired_on)
    on = row.on if isinstance(row, m.Observation | m.Look | m.LabTest) else None
    said = f"{trait} not seen, in the {row}" if isinstance(row, m.Look) else in_words(row)
    return Described(row, said, on)


def in_words(row: m.Record) -> str:
    """What a row says, short."""
    if isinstance(row, m.Animal):
        parents = " × ".join(str(one) for one in (row.dam, row.sire) if one is not None)
        return f"{row} is of {parents}" if parents else f"what was seen on {row}"
    if isinstance(row, m.Clutch):
        sires = " or ".join(str(one) for one in getattr(row, "live_sires", ()))
        dam = row.dam or "a female not recorded"
        return f"clutch {row}: {dam} × {sires or 'a male not recorded'}"
    return _stated(row) if isinstance(row, m.Statement) else str(row)


def _stated(row: m.Statement) -> str:
    """What a source says, and how far its word is taken where that is not wholly."""
    if row.source is not None and row.signed_id is not None:
        taken = row.source.reliability
        doubted = "" if taken == 1 else f", taken for {percent(float(taken))}"
        said = f"{row.animal}: {claim_said(row)} of {row.trait}"
        return f"{said}, by the papers of {row.source}{doubted}"
    if row.source is None:
        return f"{row}, by a source not named"
    taken = row.source.reliability
    doubted = "" if taken == 1 else f", taken for {percent(float(taken))}"
    return f"{row}, by {row.source}{doubted}"


def _hatched(part: Subproblem, clutch: m.Clutch, trait: Trait) -> str:
    """What hatched in a clutch, of those that could have shown the trait."""
    of = part.of
    seen, looked = showed(alike(of.inheritance, of.rows, clutch.pk), trait.pk)
    what = f"{seen} of {looked} showed {trait}" if looked else "its other looks"
    return f"clutch {clutch.code}: {what}"
