"""Noting husbandry: one record, several of an animal, and a round: one entry with all its rows."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from keeper.domain.book.writing import Refused, Writing, writing
from keeper.domain.husbandry.queries import last_of
from keeper.domain.saying import already
from keeper.domain.saying.counts import how_many
from keeper.models import (
    Account,
    Animal,
    Cleaning,
    DaybookEntry,
    HealthNote,
    HusbandryRecord,
    Meal,
    Outcome,
    Status,
    Treatment,
    Weight,
)

# A weight beside the last one beyond these is asked about: a slip of the point, most often.
_LEAST, _MOST = Decimal("0.6"), Decimal(2)
# Of these several are noted on one day; the same of one is what somebody else may have noted too.
_TELLS_APART: dict[type[HusbandryRecord], str] = {
    Cleaning: "what",
    Treatment: "what",
    HealthNote: "text",
}
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
        Questioned: the same was noted of it that day already, or it weighs far from what it weighed
            last.
    """
    what = f"{animal}: {'; '.join(map(str, records))}"
    with writing(by=by, what=what, subject=animal) as book:
        _refuse_withdrawn([animal])
        days = {one.on for one in records if isinstance(one, Meal)}
        for day in sorted(days):
            book.ask(_fed_already([animal.pk], day))
        book.ask(_noted_already(records))
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
    for entry, number in already.made_by(rows):
        of = f"{number} of these" if len(animals) > 1 else "it"
        yield (
            f"{already.writer(entry)} wrote {'meals' if number > 1 else 'a meal'} for {of} "
            f"{already.day(on)} ({already.at(entry)}). Write {how_many(len(animals), 'meal')} more?"
        )


def _noted_already(records: Iterable[HusbandryRecord]) -> Iterable[str]:
    """Ask about the same of that animal and day that is in the book; of meals it is asked apart."""
    for one in records:
        if isinstance(one, Meal):
            continue
        rows = type(one).objects.live().filter(animal=one.animal_id, on=one.on)
        if told := _TELLS_APART.get(type(one)):
            rows = rows.filter(**{told: getattr(one, told)})
        for entry, _ in already.made_by(rows):
            kind = one._meta.verbose_name
            yield (
                f"{already.writer(entry)} wrote a {kind} of {one.animal} {already.day(one.on)} "
                f"({already.at(entry)}). Write another one: {one}?"
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
