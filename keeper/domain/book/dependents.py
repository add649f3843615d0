"""What stands on a record: every record that counts and names it.

Withdrawing, undoing and importing ask this one registry. It is read off the models, so that a new
kind of record is in it by itself; what has to be said of it is which records are a part of what
they name, and go out of the account with it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.apps import apps
from django.db.models import ForeignKey, ManyToManyField, QuerySet

from keeper import models as m
from keeper.domain.book.refusing import Refused, sentence

# Records that are a part of the one they name here: read on its page, and silent without it.
_PART_OF = {
    (m.Look, "animal"),
    (m.Observation, "animal"),
    (m.Observation, "look"),
    (m.Statement, "animal"),
    (m.LabTest, "animal"),
    (m.Paper, "animal"),
    (m.SignedPaper, "animal"),
    (m.Photo, "animal"),
    (m.Arising, "animal"),
    (m.Sheet, "animal"),
    (m.Told, "sheet"),
    (m.Offer, "animal"),
    (m.Sale, "animal"),
    *((one, "animal") for one in m.HusbandryRecord.__subclasses__()),
    (m.Chore, "animal"),
    (m.Chore, "place"),
    (m.Foretold, "clutch"),
    (m.Label, "animal"),
    (m.Label, "clutch"),
    (m.Label, "place"),
    (m.Label, "row"),
    (m.Label, "run"),
    (m.Arrangement, "animal"),
    (m.Arrangement, "clutch"),
    (m.Arrangement, "member"),
    (m.CandidateSire, "clutch"),
    (m.HatchRow, "clutch"),
    (m.RowSighting, "row"),
    (m.BreedingEvent, "dam"),
    (m.Incubation, "clutch"),
    (m.ClutchStep, "clutch"),
    (m.ClutchStep, "animal"),
    (m.Member, "project"),
    (m.GoalPart, "project"),
    (m.GoalLook, "project"),
    (m.LookPart, "look"),
    (m.Plan, "project"),
    (m.PlanStep, "plan"),
    (m.ProspectWord, "prospect"),
    (m.Condition, "showing"),
}


# What is named here may be withdrawn and the record that names it still counts.
_LOOSE = {
    (m.Trait, "hides"),
    (m.Statement, "paper"),
    (m.LabTest, "paper"),
    (m.Prospect, "bought"),
    # What was printed on it stays readable.
    (m.LabelRun, "sheet"),
}


# What else must be for a record to stand on what it names, beside counting itself.
_COUNTS: dict[type[m.Record], dict[str, None]] = {
    m.Member: {"released_on": None},
    m.ProspectWord: {"prospect__withdrawn_at": None},
    m.RowSighting: {"row__withdrawn_at": None},
    m.PlanStep: {"plan__withdrawn_at": None},
}


@dataclass(frozen=True)
class Relation:
    """A way in which one kind of record names another.

    Attributes:
        model, field: the records that name, and the field they name it in.
        names: the kind that is named.
        is_part: whether they are a part of what they name, and go out of the account with it.
        holds: whether what they name has to count as long as they do.
    """

    model: type[m.Record]
    field: str
    names: type[m.Record]
    is_part: bool
    holds: bool

    def naming(self, pks: Iterable[int]) -> QuerySet[Any]:
        """Return the records that count and name some records in this way."""
        rows = self.model.objects.live().filter(**{f"{self.field}__in": list(pks)})
        return rows.filter(**_COUNTS.get(self.model, {})) if not self.is_part else rows


@cache
def relations() -> tuple[Relation, ...]:
    """Return every way in which records name records."""
    found = []
    for model in apps.get_models():
        if not issubclass(model, m.Record):
            continue
        for field in (*model._meta.fields, *model._meta.many_to_many):
            target: Any = field.related_model
            if isinstance(field, ForeignKey | ManyToManyField) and issubclass(target, m.Record):
                way = (model, field.name)
                found.append(Relation(*way, target, way in _PART_OF, way not in _LOOSE))
    return tuple(found)


def dependents(record: m.Record) -> Iterator[tuple[Relation, QuerySet[Any]]]:
    """Yield each way in which a record can be named, with what counts and names it so."""
    for relation in relations():
        if relation.names is type(record):
            yield relation, relation.naming([record.pk])


def refuse_dangling(written: Iterable[m.Record]) -> None:
    """Refuse an entry that leaves a record which counts naming one that does not.

    `written` holds the records as the entry leaves them. The queries do not grow with them.

    Raises:
        Refused: the message names both.
    """
    live: dict[type[m.Record], list[m.Record]] = defaultdict(list)
    gone: dict[type[m.Record], set[int]] = defaultdict(set)
    for record in written:
        if record.is_withdrawn:
            gone[type(record)].add(record.pk)
        else:
            live[type(record)].append(record)
    _refuse_naming_withdrawn(live)
    for relation in relations():
        if relation.holds and not relation.is_part and relation.names in gone:
            row = relation.naming(gone[relation.names]).first()
            if row is not None:
                said = f"{_called(row)} rests on what would be withdrawn. Correct that first."
                raise Refused(sentence(said))


def _refuse_naming_withdrawn(live: Mapping[type[m.Record], list[m.Record]]) -> None:
    named: dict[type[m.Record], dict[int, m.Record]] = defaultdict(dict)
    for relation in relations():
        if relation.holds:
            for row in live.get(relation.model, ()):
                for pk in _named_by(row, relation.field):
                    named[relation.names].setdefault(pk, row)
    for model, by in named.items():
        gone = model.objects.withdrawn().filter(pk__in=by).order_by("pk")
        first = gone.values_list("pk", flat=True).first()  # the whole row only if it is needed
        if first is not None:
            target = gone.get(pk=first)
            raise Refused(
                f"{sentence(_called(by[target.pk]))} would name {_called(target)}, which is "
                "withdrawn. Restore that first."
            )


def _named_by(row: m.Record, name: str) -> Iterable[int]:
    field: Any = row._meta.get_field(name)
    if field.many_to_many:
        return list(getattr(row, name).values_list("pk", flat=True))
    value = getattr(row, field.attname)
    return () if value is None else (value,)


def _called(record: m.Record) -> str:
    return f"the {record._meta.verbose_name} {record}"
