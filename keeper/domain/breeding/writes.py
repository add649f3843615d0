"""What is written of a way: one entry a step. Nothing here bears on a figure."""

from collections.abc import Iterator, Sequence
from datetime import date

from django.db.models import Sum
from django.utils import timezone

from keeper.domain.book.writing import Refused, Writing, writing
from keeper.domain.breeding.losses import lost_by_day, lost_in_all
from keeper.domain.clutches.queries import with_hatched
from keeper.domain.saying import already
from keeper.domain.saying.counts import how_many
from keeper.models import (
    GONE,
    Account,
    Animal,
    BreedingEvent,
    Clutch,
    ClutchStep,
    DaybookEntry,
    Incubation,
    StepKind,
)
from keeper.models.breeding.clutch_steps import OF_YOUNG

_Noted = BreedingEvent | ClutchStep | Incubation


def note_event(*, event: BreedingEvent, by: Account) -> DaybookEntry:
    """Note what was seen or done with a female before laying.

    Raises:
        ValidationError: it is not in order, or noted already.
        Refused: the day is to come, or an animal is not here or withdrawn.
    """
    what = f"{event.get_kind_display()}: {event.dam}{f' × {event.sire}' if event.sire else ''}"
    with writing(by=by, what=_sentence(what), subject=event.dam) as book:
        _refuse_to_come(event.on)
        _refuse_away(book, event)
        book.keep(event)
    return book.entry


def change_event(*, event: BreedingEvent, by: Account, reason: str = "") -> DaybookEntry:
    """Correct what was noted of a female.

    Raises:
        ValidationError: it is not in order.
        Refused: the day is to come, or it was withdrawn.
    """
    with writing(by=by, what=f"Changed: {event}", reason=reason, subject=event.dam) as book:
        _refuse_withdrawn(book, event)
        _refuse_to_come(event.on)
        book.keep(event)
    return book.entry


def withdraw_noted(*, noted: _Noted, reason: str, by: Account) -> DaybookEntry:
    """Take back what was noted; losses by day go out of the clutch's count with it.

    Raises:
        Refused: it was taken back already.
    """
    subject = noted.dam if isinstance(noted, BreedingEvent) else noted.clutch
    with writing(by=by, what=f"Withdrew: {noted}", reason=reason, subject=subject) as book:
        _refuse_withdrawn(book, noted)
        before = lost_by_day(noted.clutch) if isinstance(noted, ClutchStep) else 0
        book.withdraw(noted, reason=reason)
        if isinstance(noted, ClutchStep) and noted.kind == StepKind.LOST:
            _follow_losses(book, noted.clutch, before)
    return book.entry


def restore_noted(*, noted: _Noted, by: Account) -> DaybookEntry:
    """Let what was taken back count again.

    Raises:
        ValidationError: the same was noted meanwhile.
        Refused: it counts already, or eggs would be lost that there are not.
    """
    subject = noted.dam if isinstance(noted, BreedingEvent) else noted.clutch
    with writing(by=by, what=f"Restored: {noted}", subject=subject) as book:
        before = lost_by_day(noted.clutch) if isinstance(noted, ClutchStep) else 0
        book.restore(noted)
        if isinstance(noted, ClutchStep):
            _check_step(book, noted, before)
    return book.entry


def keep_incubation(*, incubation: Incubation, by: Account, reason: str = "") -> DaybookEntry:
    """Note where a clutch's eggs lie, or correct it.

    Raises:
        ValidationError: it is not in order, or the box is noted already.
        Refused: the day is to come, the clutch was withdrawn, or the species bears live young.
    """
    clutch = incubation.clutch
    what = f"{'Changed: ' if incubation.pk else ''}{clutch} in {incubation.box}"
    with writing(by=by, what=what, reason=reason, subject=clutch) as book:
        _refuse_withdrawn(book, clutch)
        if incubation.pk:
            _refuse_withdrawn(book, incubation)
        _refuse_to_come(incubation.since)
        if clutch.species.bears_live:
            raise Refused(f"{clutch.species} bears live young: no egg is incubated. Leave it.")
        book.keep(incubation)
    return book.entry


def note_step(
    *, step: ClutchStep, lost: int = 0, young: Sequence[Animal] = (), by: Account
) -> DaybookEntry:
    """Note one step of a clutch, in one entry: eggs lost at a candling too, or of many young.

    Of `young` each gets a row of its own; the step itself, if it has a count, is of those
    without a record.

    Raises:
        ValidationError: a row is not in order, or noted already.
        Refused: the day is to come, the clutch was withdrawn, nobody is named, or more eggs or
            young are told of than there are.
        Questioned: the same was noted of the clutch on that day already.
    """
    what = _sentence(f"{step.get_kind_display()}: {_of_how_many(step, lost, young)}")
    with writing(by=by, what=what, subject=step.clutch) as book:
        _refuse_withdrawn(book, step.clutch)
        _refuse_to_come(step.on)
        book.ask(_noted_already(step, young))
        before = lost_by_day(step.clutch)
        for row in _rows(step, lost, young):
            book.keep(row)
            _check_step(book, row, before)
    return book.entry


def change_step(*, step: ClutchStep, by: Account, reason: str = "") -> DaybookEntry:
    """Correct a step: its day, its count.

    Raises:
        ValidationError: it is not in order.
        Refused: as in `note_step`, or it was withdrawn.
    """
    with writing(by=by, what=f"Changed: {step}", reason=reason, subject=step.clutch) as book:
        _refuse_withdrawn(book, step)
        _refuse_to_come(step.on)
        before = lost_by_day(step.clutch)
        book.keep(step)
        _check_step(book, step, before)
    return book.entry


def _noted_already(step: ClutchStep, young: Sequence[Animal]) -> Iterator[str]:
    """Ask about the same step on the same day: two people may have seen the same eggs."""
    if young and not step.count:
        return  # of young with a record the database keeps one
    same = ClutchStep.objects.live().filter(
        clutch=step.clutch, kind=step.kind, on=step.on, animal=None
    )
    for entry, _ in already.made_by(same):
        yield (
            f"{already.writer(entry)} wrote of {step.clutch} “{step.get_kind_display()}” "
            f"{already.day(step.on)} ({already.at(entry)}). Write it once more?"
        )


def _rows(step: ClutchStep, lost: int, young: Sequence[Animal]) -> list[ClutchStep]:
    if step.kind not in OF_YOUNG:
        rows = [step]
        if lost:
            rows.append(ClutchStep(clutch=step.clutch, kind=StepKind.LOST, on=step.on, count=lost))
        return rows
    if not young and not step.count:
        raise Refused("Nobody is chosen. Choose the young, or say how many without a record.")
    shared = {"clutch": step.clutch, "kind": step.kind, "on": step.on, "note": step.note}
    return [*([step] if step.count else []), *(ClutchStep(animal=one, **shared) for one in young)]


def _of_how_many(step: ClutchStep, lost: int, young: Sequence[Animal]) -> str:
    if step.kind in OF_YOUNG:
        return f"{len(young) + (step.count or 0)} of {step.clutch}"
    said = [str(step.clutch)]
    if step.kind == StepKind.CANDLED and step.count is not None:
        said.append(f"{step.count} fertile")
    elif step.count is not None:
        said.append(how_many(step.count, "egg"))
    if lost:
        said.append(f"{lost} lost")
    return ", ".join(said)


def _check_step(book: Writing, step: ClutchStep, lost_before: int) -> None:
    """Refuse more eggs and young than there are; bring the clutch's losses up to those by day."""
    clutch = with_hatched(Clutch.objects.filter(pk=step.clutch_id)).get()
    if step.kind in OF_YOUNG:
        _refuse_too_many_young(step, clutch)
        return
    # Where eggs were lost by day the clutch counts at least those.
    clutch.lost = lost_in_all(clutch, lost_before)
    if clutch.eggs is None:
        if step.kind == StepKind.LOST:
            _follow_losses(book, clutch, lost_before)
        return
    told = clutch.slugs + clutch.lost + clutch.hatched
    if step.kind == StepKind.LOST and told > clutch.eggs:
        raise Refused(
            f"{how_many(clutch.eggs, 'egg')}, but {how_many(clutch.slugs, 'slug')} + "
            f"{clutch.lost} lost + {clutch.hatched} hatched are {told}. Correct one of them."
        )
    if step.count is not None and step.count > clutch.eggs:
        raise Refused(
            f"{step.count} are more than the {how_many(clutch.eggs, 'egg')} that were laid. "
            "Correct one of the two."
        )
    if step.kind == StepKind.LOST:
        _follow_losses(book, clutch, lost_before)


def _refuse_too_many_young(step: ClutchStep, clutch: Clutch) -> None:
    """Refuse young without a record of which the same was noted more often than there are."""
    if step.animal_id is not None:
        return
    recorded = Animal.objects.live().filter(clutch=clutch.pk, hatch_row__isnull=False).count()
    there = clutch.hatched - recorded  # type: ignore[attr-defined]  # added by with_hatched
    noted = (
        ClutchStep.objects.live()
        .filter(clutch=clutch.pk, kind=step.kind, animal=None)
        .aggregate(all=Sum("count"))["all"]
    )
    if (noted or 0) > there:
        raise Refused(
            f"{noted} young without a record are more than the {there} there are. "
            "Correct the count, or choose those with a record."
        )


def _follow_losses(book: Writing, clutch: Clutch, before: int) -> None:
    fresh = book.now(clutch)
    fresh.lost = lost_in_all(fresh, before)
    book.keep(fresh)


def _refuse_to_come(day: date | None) -> None:
    if day is not None and day > timezone.localdate():
        raise Refused("That day is still to come. Enter today or an earlier day.")


def _refuse_withdrawn(book: Writing, record: _Noted | Clutch) -> None:
    if book.now(record).is_withdrawn:
        raise Refused(_sentence(f"{record} was withdrawn. Restore it first."))


def _refuse_away(book: Writing, event: BreedingEvent) -> None:
    for one in filter(None, (event.dam, event.sire)):
        animal = book.now(one)
        if animal.is_withdrawn:
            raise Refused(f"The record of {animal} was withdrawn. Restore it first.")
        gone = animal.status_since if animal.status in GONE else None
        if gone and event.on and event.on > gone:
            raise Refused(
                f"{animal} was not here any more: {animal.get_status_display()}. "
                "Correct the day, or choose another."
            )


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]
