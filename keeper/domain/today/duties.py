"""What is due, late or coming, of every kind: with its place and with whoever does it.

Most of it follows from the records; chores stand in rows of their own. What was put off waits apart
until its day. As many queries however much is due.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from keeper.domain.breeding.due import Due
from keeper.domain.breeding.due import due as steps_due
from keeper.domain.breeding.steps import Step
from keeper.domain.today import queries as reads
from keeper.models import (
    Account,
    Animal,
    Arranged,
    Arrangement,
    Chore,
    Clutch,
    Incubation,
    Member,
    Place,
    Quarantine,
)

AHEAD = timedelta(days=7)
# What a chore is called in the key of a duty, beside the kinds that can be arranged.
CHORE = "chore"
# What one button alone says all of.
AT_ONCE = frozenset({CHORE, Arranged.SHED.value, Arranged.QUARANTINE.value})

Subject = Animal | Clutch | Member | Chore
_OF_FEMALES = {
    Step.SHED: Arranged.SHED,
    Step.LAID: Arranged.LAID,
    Step.HATCHED: Arranged.BORN,
}
_OF_YOUNG = {Step.FIRST_SHED: Arranged.FIRST_SHED, Step.FIRST_MEAL: Arranged.FIRST_MEAL}


@dataclass(frozen=True)
class Duty:
    """Something that somebody has to do or to look for, between two days.

    Attributes:
        kind: one of `Arranged`, or `CHORE`.
        subject: what it is about: by kind an animal, a clutch, a holdback; a chore itself.
        what: what it is, in words.
        ground: why it is expected then; empty where a day was chosen.
        place: where it is, as it is written; empty: not known.
        until: until when it is put off; None: it is not.
        person: who does it; None: whoever is there.
    """

    kind: str
    subject: Subject
    what: str
    low: date
    high: date
    ground: str = ""
    place: str = ""
    until: date | None = None
    person: Account | None = None

    @property
    def key(self) -> str:
        """What it is called in forms and calendars; the same from day to day."""
        return key(self.kind, self.subject)

    @property
    def about(self) -> Animal | Clutch | Place | None:
        """The animal, clutch or place that it is about; None: nothing in particular."""
        if isinstance(self.subject, Member):
            return self.subject.animal
        if isinstance(self.subject, Chore):
            return self.subject.animal or self.subject.place
        return self.subject

    @property
    def is_done_at_once(self) -> bool:
        """Whether a button alone can say that it was done; else its form asks for more."""
        return self.kind in AT_ONCE

    def is_late(self, today: date) -> bool:
        """Whether its last day is over."""
        return self.high < today

    def is_coming(self, today: date) -> bool:
        """Whether its first day is still to come."""
        return self.low > today

    def is_put_off(self, today: date) -> bool:
        """Whether it waits until another day."""
        return self.until is not None and self.until > today


def key(kind: str, subject: Subject) -> str:
    """Return what a duty is called."""
    return f"{kind}-{subject.pk}"


def key_of_step(one: Due) -> str:
    """Return what a step is called that is expected of a female, or of a clutch's young."""
    if one.clutch is not None:
        return key(_OF_YOUNG[one.step], one.clutch)
    assert one.dam is not None
    return key(_OF_FEMALES[one.step], one.dam)


def duties(today: date) -> list[Duty]:
    """Return all that is due until in a week or late, what was put off too, the earliest first."""
    found = _arranged([*_of_clutches(today), *_of_animals(today)])
    found = _placed(found) + list(chores(today))
    return sorted(found, key=lambda one: (one.low, one.high, str(one.about or ""), one.what))


def put_off(today: date) -> frozenset[str]:
    """Return the keys of what waits until another day."""
    rows = Arrangement.objects.live().filter(until__gt=today)
    return frozenset(_key(one) for one in rows)


def _of_clutches(today: date) -> Iterator[Duty]:
    for hatch in reads.clutches_due(today):
        yield Duty(Arranged.HATCH.value, hatch.clutch, "hatch", hatch.on, hatch.on)
    for one in steps_due(today):
        kinds = _OF_YOUNG if one.clutch is not None else _OF_FEMALES
        of = one.clutch or one.dam
        assert of is not None
        days = one.expected.low, one.expected.high
        yield Duty(kinds[one.step].value, of, one.name, *days, one.expected.ground)


def _of_animals(today: date) -> Iterator[Duty]:
    kind = Arranged.REVIEW
    for member in reads.reviews_due(today + AHEAD):
        if member.review_on is not None:
            day, what = member.review_on, f"look again for {member.project}"
            yield Duty(kind.value, member, what, day, day)
    kind = Arranged.QUARANTINE
    for one in open_quarantines(today + AHEAD):
        yield Duty(kind.value, one.animal, kind.label, one.until, one.until)


def open_quarantines(until: date) -> Iterable[Quarantine]:
    """Return one quarantine of each animal that goes on and was planned to end by a day."""
    rows = Quarantine.objects.live().filter(
        ended_on=None, until__lte=until, animal__withdrawn_at=None
    )
    last = {one.animal_id: one for one in rows.select_related("animal").order_by("until", "pk")}
    return last.values()


def chores(today: date) -> Iterator[Duty]:
    """Yield the chores that wait and are due until in a week."""
    rows = Chore.objects.live().filter(done_on=None, on__lte=today + AHEAD)
    for one in rows.select_related("animal", "place", "person"):
        place = one.animal.place if one.animal else one.place.name if one.place else ""
        yield Duty(CHORE, one, one.what, one.on, one.on, place=place, person=one.person)


def _key(one: Arrangement) -> str:
    return f"{one.kind}-{one.animal_id or one.clutch_id or one.member_id}"


def _arranged(found: list[Duty]) -> list[Duty]:
    """Say of each whether it is put off, and who does it."""
    rows = Arrangement.objects.live().select_related("person") if found else ()
    arranged = {_key(one): one for one in rows}
    return [
        replace(one, until=arranged[one.key].until, person=arranged[one.key].person)
        if one.key in arranged
        else one
        for one in found
    ]


def _placed(found: list[Duty]) -> list[Duty]:
    """Say of each where it is: the animal's place; of eggs their incubator, else their dam's."""
    eggs = {one.subject.pk for one in found if one.kind == Arranged.HATCH}
    boxes = {
        one.clutch_id: one.place or one.box
        for one in Incubation.objects.live().filter(clutch__in=eggs).order_by("since", "pk")
    }
    return [replace(one, place=_place(one, boxes)) for one in found]


def _place(one: Duty, boxes: Mapping[int, str]) -> str:
    about = one.about
    if isinstance(about, Clutch):
        of_dam = about.dam.place if about.dam else ""
        return boxes.get(about.pk) or ("" if about.hatched_on else of_dam)
    return about.place if isinstance(about, Animal) else ""


def grouped(found: Iterable[Duty], by: Callable[[Duty], str]) -> dict[str, list[Duty]]:
    """Return duties by what a function says of each, in their order."""
    groups: dict[str, list[Duty]] = {}
    for one in found:
        groups.setdefault(by(one), []).append(one)
    return groups
