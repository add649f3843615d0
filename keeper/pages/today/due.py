"""What the page of all that is due prints: by place or by person, late, now and coming."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from keeper.domain.breeding.way import between
from keeper.domain.places.queries import in_order, rack_of
from keeper.domain.today.duties import AT_ONCE, Duty, grouped
from keeper.models import Animal, Arranged, Chore, Clutch, Member, Place

NOWHERE = "No place known"
NOBODY = "Whoever is there"
_LATE, _NOW, _COMING = "late", "due", "coming"


@dataclass(frozen=True)
class Row:
    """One duty as the page shows it.

    Attributes:
        state: late, due or coming.
        days: its days in words.
        about, url: what it is about, and its page; empty: nothing.
        form: where it is closed or changed; `form_words` is what the link says.
    """

    duty: Duty
    state: str
    days: str
    about: str
    url: str
    form: str
    form_words: str

    @property
    def details(self) -> list[str]:
        """What else is known of it: until when it is put off, where, who does it, why then."""
        one = self.duty
        until = f"put off until {one.until:%-d %B}" if one.until else ""
        return [word for word in (until, one.place, str(one.person or ""), one.ground) if word]

    @property
    def named(self) -> str:
        """All of it in words, for whoever hears a button alone."""
        return f"{self.duty.what} of {self.about}" if self.about else self.duty.what


@dataclass(frozen=True)
class Group:
    """What is due at one place, or for one person."""

    name: str
    rows: list[Row]


@dataclass(frozen=True)
class DuePage:
    """All that is due, and apart from it what was put off."""

    groups: list[Group]
    put_off: list[Row]
    late: int
    now: int
    coming: int

    @property
    def number(self) -> int:
        """How much is due in all, without what was put off."""
        return self.late + self.now + self.coming


def due_page(found: list[Duty], today: date, *, by: str) -> DuePage:
    """Return duties by `place` or by `person`; the places in the order of a round."""
    rows = {one.key: row_of(one, today) for one in found}
    off = [one for one in found if one.is_put_off(today)]
    open_ = [one for one in found if not one.is_put_off(today)]
    if by == "person":
        groups = grouped(open_, lambda one: str(one.person or NOBODY))
    else:
        groups = grouped(open_, lambda one: rack_of(one.place) if one.place else NOWHERE)
    last = {NOWHERE, NOBODY}
    names = sorted(groups, key=lambda name: (name in last, in_order(name)))
    states = [rows[one.key].state for one in open_]
    return DuePage(
        [Group(name, [rows[one.key] for one in groups[name]]) for name in names],
        [rows[one.key] for one in off],
        *(states.count(one) for one in (_LATE, _NOW, _COMING)),
    )


def row_of(one: Duty, today: date) -> Row:
    """Return a duty as the page shows it."""
    about = one.about
    state = _LATE if one.is_late(today) else _COMING if one.is_coming(today) else _NOW
    form, words = _form(one)
    days = between(one.low, one.high)
    return Row(one, state, days, str(about or ""), address_of(one, own=False), form, words)


def address_of(one: Duty, *, own: bool = True) -> str:
    """Where in the book a duty stands; with `own` a chore about nothing is the list itself."""
    about = one.about
    if isinstance(about, Animal):
        return reverse("animals-one", kwargs={"pk": about.pk})
    if isinstance(about, Clutch):
        return reverse("clutches-one", kwargs={"pk": about.pk})
    if isinstance(about, Place):
        return reverse("animals-places-one", kwargs={"pk": about.pk})
    return reverse("home-due") if own else ""


def _form(one: Duty) -> tuple[str, str]:
    """Where a duty is closed, put right or changed, and what leads there."""
    pk = one.subject.pk
    if isinstance(one.subject, Chore):
        return reverse("home-due-chore", kwargs={"pk": pk}), "Change it"
    if isinstance(one.subject, Member):
        return reverse("projects-review", kwargs={"pk": pk}), "Look at it"
    if one.kind == Arranged.HATCH:
        return reverse("clutches-hatch", kwargs={"pk": pk}), "Log it"
    if isinstance(one.subject, Clutch):
        return reverse("clutches-way", kwargs={"pk": pk}) + "#young", "Note it"
    if one.kind == Arranged.SHED:
        return reverse("animals-way", kwargs={"pk": pk}) + "#note", "Another day"
    if one.kind == Arranged.QUARANTINE:
        return reverse("animals-husbandry", kwargs={"pk": pk}), "Make it longer"
    return f"{reverse('clutches-new')}?dam={pk}", "Note it"


def lines(shown: DuePage) -> Iterator[list[str]]:
    """The rows of the file: as the page shows them, then what was put off."""
    groups = [(group.name, group.rows) for group in shown.groups]
    for name, rows in [*groups, ("Put off", shown.put_off)]:
        for row in rows:
            one = row.duty
            until = one.until.isoformat() if one.until else ""
            yield [
                *(name, row.about, one.what, row.state, one.low.isoformat()),
                *(one.high.isoformat(), until, one.place, str(one.person or "")),
            ]


HEADS = ["Group", "Of", "What", "State", "From", "To", "Put off until", "Place", "Person"]
__all__ = ["AT_ONCE", "HEADS", "DuePage", "Group", "Row", "address_of", "due_page", "lines"]
