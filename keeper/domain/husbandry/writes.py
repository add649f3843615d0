"""Noting husbandry: one record, several of an animal, and a round: one entry with all its rows."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.contrib.contenttypes.models import ContentType
from django.utils import timezone

from keeper.domain.book.writing import Refused, Writing, writing
from keeper.domain.husbandry.queries import last_of
from keeper.domain.saying.counts import how_many
from keeper.models import (
    Account,
    Animal,
    DaybookEntry,
    HealthNote,
    HusbandryRecord,
    Meal,
    Outcome,
    Status,
    Touch,
    Weight,
)

# A weight beside the last one beyond these is asked about: a slip of the point, most often.
_LEAST, _MOST = Decimal("0.6"), Decimal(2)
_NO_PREY = (
    "Of {codes} no earlier meal is in the book, so the book cannot take what it had last. Say what "
    "was offered."
)


@dataclass(frozen=True)
class Fed:
    """What became of one animal's meal in a round."""

    animal: Animal
    outcome: Outcome


def note(*, records: Sequence[HusbandryRecord], animal: Animal, by: Account) -> DaybookEntry:
    """Note what was done for one animal, in one entry.

    Raises:
        Refused: the animal was withdrawn.
        ValidationError: a record is not in order.
        Questioned: it was fed that day already, or weighs far from what it weighed last.
    """
    what = f"{animal}: {'; '.join(map(str, records))}"
    with writing(by=by, what=what, subject=animal) as book:
        _refuse_withdrawn([animal])
        days = {one.on for one in records if isinstance(one, Meal)}
        for day in sorted(days):
            book.ask(_fed_already([animal.pk], day))
        book.ask(_weighs_oddly(one for one in records if isinstance(one, Weight)))
        for record in records:
            book.keep(record)
        _note_death(book, records)
    return book.entry


def feed(
    *, fed: Sequence[Fed], where: str, prey: str, grams: int | None, on: date, by: Account
) -> DaybookEntry:
    """Note the meals of a round: one entry, one row an animal; the queries do not grow with them.

    Where no `prey` is said, each had what it had last.

    Raises:
        Refused: nobody was fed, an animal was withdrawn, or one had no earlier meal to go by.
        Questioned: somebody wrote meals of these animals for that day already.
    """
    told = Counter(one.outcome for one in fed)
    words = ", ".join(f"{told[one]} {one.label}" for one in Outcome if told[one])
    with writing(by=by, what=f"Fed {where}: {words}") as book:
        if not fed:
            raise Refused("Nobody is marked as fed. Choose what became of one meal at least.")
        _refuse_withdrawn([one.animal for one in fed])
        book.ask(_fed_already([one.animal.pk for one in fed], on))
        book.keep_many(_meals(fed, prey, grams, on))
    return book.entry


def change(*, record: HusbandryRecord, by: Account, reason: str = "") -> DaybookEntry:
    """Correct a record, or end a quarantine."""
    what = f"Corrected of {record.animal}: {record}"
    with writing(by=by, what=what, reason=reason, subject=record.animal) as book:
        book.ask(_weighs_oddly([record] if isinstance(record, Weight) else []))
        book.keep(record)
    return book.entry


def withdraw(*, record: HusbandryRecord, by: Account, reason: str) -> DaybookEntry:
    """Take a record out of the account."""
    what = f"Withdrew of {record.animal}: {record}"
    with writing(by=by, what=what, reason=reason, subject=record.animal) as book:
        book.withdraw(record, reason=reason)
    return book.entry


def _meals(fed: Sequence[Fed], prey: str, grams: int | None, on: date) -> list[Meal]:
    had: dict[int, list[Meal]] = {}
    if not prey:
        had = last_of(Meal, [one.animal.pk for one in fed])
        without = [one.animal.code for one in fed if one.animal.pk not in had]
        if without:
            raise Refused(_NO_PREY.format(codes=", ".join(without[:5])))
    return [
        Meal(
            animal=one.animal,
            on=on,
            outcome=one.outcome,
            prey=prey or had[one.animal.pk][0].prey,
            grams=grams if prey else had[one.animal.pk][0].grams,
        )
        for one in fed
    ]


def _refuse_withdrawn(animals: Sequence[Animal]) -> None:
    gone = Animal.objects.withdrawn().filter(pk__in=[one.pk for one in animals]).first()
    if gone is not None:
        raise Refused(f"The record of {gone} was withdrawn. Leave it out, or restore it first.")


def _fed_already(animals: Sequence[int], on: date) -> Iterable[str]:
    """Ask about meals of that day that are in the book: who wrote them, and when."""
    rows = Meal.objects.live().filter(animal__in=animals, on=on)
    made = Touch.objects.filter(
        record_type=ContentType.objects.get_for_model(Meal),
        record_id__in=rows.order_by().values("pk"),
        created=True,
    ).select_related("entry__by")
    counts = Counter(one.entry for one in made)
    for entry, number in sorted(counts.items(), key=lambda item: item[0].pk):
        at = timezone.localtime(entry.at)
        who = entry.by.name if entry.by else "The program"
        day = "today" if on == timezone.localdate() else f"for {on:%-d %B %Y}"
        of = f"{number} of these" if len(animals) > 1 else "it"
        yield (
            f"{who} wrote {'meals' if number > 1 else 'a meal'} for {of} {day} "
            f"({at:%-d %B at %H:%M}). Write {how_many(len(animals), 'meal')} more?"
        )


def _weighs_oddly(weights: Iterable[Weight]) -> Iterable[str]:
    for one in weights:
        earlier = Weight.objects.live().filter(animal=one.animal_id, on__lte=one.on)
        last = earlier.exclude(pk=one.pk).order_by("-on", "-pk").first()
        if last is not None and not _LEAST <= one.grams / last.grams <= _MOST:
            yield (
                f"{one.animal} weighed {last} on {last.on:%-d %B %Y}, and {one} on "
                f"{one.on:%-d %B %Y}. Is that so?"
            )


def _note_death(book: Writing, records: Iterable[HusbandryRecord]) -> None:
    """What was found after its death says that it died."""
    for one in records:
        if isinstance(one, HealthNote) and one.after_death:
            animal = book.now(one.animal)
            if animal.status != Status.DIED:
                animal.status, animal.status_since = Status.DIED, one.on
                book.keep(animal)
