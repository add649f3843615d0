"""Taking things out of the register, and back: only what nothing living rests on."""

from collections.abc import Iterator
from functools import singledispatch

from django.contrib.contenttypes.models import ContentType
from django.db.models import Q, QuerySet

from keeper.domain.book.dependents import dependents
from keeper.domain.book.writing import Refused, writing
from keeper.domain.register.placing import (
    linked,
    open_pairs_of,
    refuse_beside_nameless,
    refuse_joining,
)
from keeper.models import (
    Account,
    Animal,
    Clutch,
    Condition,
    DaybookEntry,
    GoalLook,
    GoalPart,
    Interval,
    LabTest,
    Line,
    LookPart,
    NamedLook,
    Observation,
    Paper,
    Project,
    ProspectWord,
    Record,
    RowSighting,
    Sheet,
    Showing,
    Shown,
    Statement,
    Survival,
    Touch,
    Trait,
)


def withdraw(*, record: Record, by: Account, reason: str) -> DaybookEntry:
    """Take a record of the register out, with what makes no sense without it.

    Raises:
        Refused: records that count name it; the message lists them.
    """
    what = f"Withdrew {_named(record)}"
    with writing(by=by, what=what, reason=reason, subject=page_of(record)) as book:
        rest = list(_resting_on(record))
        if rest:
            raise Refused(
                f"{_named(record)} is in use: {'; '.join(rest)}. Change or withdraw that first."
            )
        # The record last, so that restoring, which goes backwards, meets it before its parts.
        for part in (*_going_with(record), record):
            book.withdraw(part, reason=reason)
    return book.entry


def restore(*, record: Record, by: Account) -> DaybookEntry:
    """Let a record count again, and what was withdrawn in the same entry.

    Raises:
        ValidationError: its name or code is taken by now.
        Refused: it belongs to something that is withdrawn itself.
    """
    with writing(by=by, what=f"Restored {_named(record)}", subject=page_of(record)) as book:
        owner = _owner(record)
        if owner is not None and book.now(owner).is_withdrawn:
            raise Refused(f"First restore {_named(owner)}, which is withdrawn.")
        if isinstance(record, Showing):
            _refuse_outdated(record)
        if isinstance(record, Line):
            refuse_beside_nameless(record)
            refuse_joining(record, record.locus)
        for part in withdrawn_together(record):
            book.restore(part)
    return book.entry


def _refuse_outdated(showing: Showing) -> None:
    if showing.trait.shown != Shown.RULES:
        raise Refused(
            f"{showing.trait} is not shown by combinations any more. Change how it is shown first."
        )
    gone = Line.objects.withdrawn().filter(pk__in=showing.conditions.values("lines")).first()
    if gone is not None:
        raise Refused(f"First restore {_named(gone)}, which is withdrawn.")


def _named(record: Record) -> str:
    match record:
        case Showing():
            return f"a combination that shows {record.trait}"
        case Survival():
            return f"the survival of {record}"
        case Interval():
            return f"the link of {record}"
    return f"the {record._meta.verbose_name} {record}"


def page_of(record: Record) -> Record:
    """Return the record on whose page this one is shown."""
    match record:
        case Showing():
            return record.trait
        case Survival():
            return record.locus
        case Interval():
            return record.left
    return record


def _owner(record: Record) -> Record | None:
    match record:
        case Trait() | NamedLook():
            return record.species
        case Line() | Showing():
            return record.trait
        case Survival():
            return record.locus
    return None


def withdrawn_together(record: Record) -> list[Record]:
    """Return what was withdrawn in the same entry as this and still is, in the order to restore."""
    kind = ContentType.objects.get_for_model(record)
    last = Touch.objects.filter(record_type=kind, record_id=record.pk).order_by("-pk").first()
    if last is None:
        return [record]
    found: list[Record] = []
    for touch in last.entry.touches.select_related("record_type").order_by("-pk"):
        model = touch.record_type.model_class()
        assert model is not None and issubclass(model, Record)
        one = record if touch == last else model._base_manager.get(pk=touch.record_id)
        if one.is_withdrawn and one not in found:
            found.append(one)
    # Its locus may have been withdrawn later, when the last of its other lines left.
    if isinstance(record, Line) and record.locus.is_withdrawn and record.locus not in found:
        found.append(record.locus)
    return found


def _counted(rows: QuerySet[Record], one: str, many: str) -> Iterator[str]:
    """Say how many there are and name the first few: "2 statements (A-1: visual, …)"."""
    number = rows.count()
    if number:
        named = ", ".join(str(row) for row in rows[:3]) + (", …" if number > 3 else "")
        yield f"{number} {one if number == 1 else many} ({named})"


# How a record of the register may be named, and what is said of so many that do, in this order.
_COUNTED: dict[tuple[type[Record], str], tuple[str, str]] = {
    (Animal, "species"): ("animal", "animals"),
    (Clutch, "species"): ("clutch", "clutches"),
    (Project, "species"): ("project", "projects"),
    (Trait, "species"): ("trait", "traits"),
    (Animal, "source"): ("animal", "animals"),
    (Observation, "trait"): ("observation", "observations"),
    (RowSighting, "trait"): ("look at a clutch", "looks at clutches"),
    (Statement, "trait"): ("statement", "statements"),
    (Statement, "line"): ("statement", "statements"),
    (Statement, "source"): ("statement", "statements"),
    (Paper, "source"): ("paper", "papers"),
    (Sheet, "buyer"): ("sheet", "sheets"),
    (LabTest, "line"): ("laboratory’s result", "laboratories’ results"),
    (ProspectWord, "trait"): ("prospect", "prospects"),
    (ProspectWord, "line"): ("prospect", "prospects"),
    (GoalPart, "trait"): ("goal", "goals"),
    (GoalPart, "line"): ("goal", "goals"),
    (GoalLook, "look"): ("goal", "goals"),
    (LookPart, "trait"): ("named look", "named looks"),
    (LookPart, "lines"): ("named look", "named looks"),
    (NamedLook, "species"): ("named look", "named looks"),
    (Trait, "base"): ("double form", "double forms"),
}


def _resting_on(record: Record) -> Iterator[str]:
    """Yield in words what counts in the book and names the record."""
    if isinstance(record, Line):
        others = Line.objects.live().filter(trait=record.trait).exclude(pk=record.pk)
        if record.trait.shown not in {Shown.EVERY, Shown.RULES} and not others.exists():
            yield f"it is the only line of {record.trait}, which you can withdraw as a whole"
    named = {(relation.model, relation.field): rows for relation, rows in dependents(record)}
    for way, (one, many) in _COUNTED.items():
        if way in named:
            yield from _counted(named[way], one, many)
    if isinstance(record, Trait):
        results = LabTest.objects.live().filter(line__trait=record)
        yield from _counted(results, *_COUNTED[LabTest, "line"])
    lines = Line.objects.live().filter(trait=record) if isinstance(record, Trait) else [record]
    for line in lines:
        if isinstance(line, Line):
            yield from _resting_on_line(line)


def _resting_on_line(line: Line) -> Iterator[str]:
    conditions = Condition.objects.live().filter(lines=line).exclude(showing__trait=line.trait)
    yield from _counted(conditions, "part of a combination", "parts of combinations")
    survivals = Survival.objects.live().filter(Q(one=line) | Q(other=line))
    yield from _counted(survivals, "survival", "survivals")
    if not Line.objects.live().filter(locus=line.locus).exclude(pk=line.pk).exists():
        interval = linked(line.locus)
        if interval is not None:
            yield f"its locus is linked ({interval})"


@singledispatch
def _going_with(record: Record) -> Iterator[Record]:
    """Yield the records that are withdrawn with this one, in the order of withdrawing."""
    yield from ()


@_going_with.register
def _(record: Showing) -> Iterator[Record]:
    yield from Condition.objects.live().filter(showing=record)


@_going_with.register
def _(record: NamedLook) -> Iterator[Record]:
    yield from LookPart.objects.live().filter(look=record)


@_going_with.register
def _(record: Trait) -> Iterator[Record]:
    for showing in Showing.objects.live().filter(trait=record):
        yield from _going_with(showing)
        yield showing
    lines = list(Line.objects.live().filter(trait=record))
    yield from open_pairs_of(lines)
    yield from lines
    for locus in {line.locus for line in lines}:
        if not Line.objects.live().filter(locus=locus).exclude(trait=record).exists():
            yield locus


@_going_with.register
def _(record: Line) -> Iterator[Record]:
    yield from open_pairs_of([record])
    if not Line.objects.live().filter(locus=record.locus).exclude(pk=record.pk).exists():
        yield record.locus
