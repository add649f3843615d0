"""Reading laboratories, their results, and what each result moved."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.contrib.contenttypes.models import ContentType
from django.db.models import Count, F, Q, QuerySet

from keeper.domain.laboratories import queries as read
from keeper.models import Animal, Laboratory, LabTest, StandingChange, Touch

_WITHDRAWN_LAST = F("withdrawn_at").asc(nulls_first=True)


def with_counts(laboratories: QuerySet[Laboratory]) -> QuerySet[Laboratory]:
    """Add how many results that count each laboratory has, as `counted`."""
    live = Q(results__withdrawn_at=None)
    return laboratories.annotate(counted=Count("results", filter=live)).order_by("name", "pk")


def results_of(laboratory: Laboratory) -> QuerySet[LabTest]:
    """Return the results of a laboratory that count, the newest first."""
    rows: QuerySet[LabTest] = LabTest.objects.live().filter(laboratory=laboratory)
    return rows.select_related("animal", "line__trait", "laboratory", "paper").order_by(
        "-on", "-pk"
    )


def tests_on(animal: Animal) -> QuerySet[LabTest]:
    """Return what laboratories found in an animal, the newest first, withdrawn results last."""
    rows: QuerySet[LabTest] = LabTest.objects.filter(animal=animal)
    return rows.select_related("animal", "line__trait", "laboratory", "paper").order_by(
        _WITHDRAWN_LAST, "-on", "-pk"
    )


def moved_by_tests(tests: Iterable[LabTest]) -> dict[int, StandingChange]:
    """Return by id of a result how it moved its own line when it came into the book.

    Two queries, however many results there are. A result that moved nothing is left out.
    """
    by_pk = {one.pk: one for one in tests}
    made = Touch.objects.filter(
        record_type=ContentType.objects.get_for_model(LabTest), record_id__in=by_pk, created=True
    )
    entry_of = dict(made.values_list("record_id", "entry_id"))
    changes = StandingChange.objects.filter(
        entry__in=entry_of.values(), animal__in={one.animal_id for one in by_pk.values()}
    ).select_related("trait", "line")
    found = {(one.entry_id, one.animal_id, one.line_id): one for one in changes}
    keys = {pk: (entry_of.get(pk), one.animal_id, one.line_id) for pk, one in by_pk.items()}
    return {pk: found[key] for pk, key in keys.items() if key in found}


@dataclass(frozen=True)
class Result:
    """A result, and how it moved its line's number when it came in (None: not at all)."""

    test: LabTest
    moved: StandingChange | None


def results(tests: list[LabTest]) -> tuple[Result, ...]:
    """Return results with what each moved."""
    moved = read.moved_by_tests(tests) if tests else {}
    return tuple(Result(one, moved.get(one.pk)) for one in tests)
