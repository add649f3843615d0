"""A way as pages show it: the line and the list, of a clutch or of a female's season."""

from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from keeper.domain.breeding.picture import WayLine, way_line
from keeper.domain.breeding.way import Way, way_of_clutch, way_of_season
from keeper.models import Animal, Clutch, Sex


@dataclass(frozen=True)
class ShownWay:
    """A way with its drawing; the numbers of the drawing are the places in its list."""

    way: Way
    line: WayLine | None
    today: date

    @property
    def words(self) -> str:
        """What the drawing says, in a sentence: for whoever cannot see it."""
        done = [one for one in self.way.stages if one.days]
        said = f"{len(done)} of {len(self.way.stages)} steps done"
        if done:
            said += f", last {done[-1].name} on {max(done[-1].days):%-d %B %Y}"
        ahead = self.way.next
        if ahead is not None and ahead.expected is not None:
            said += f"; {ahead.name} expected {ahead.expected.days}"
        return f"{said}. The list has all of it."

    @property
    def is_late(self) -> bool:
        """Whether what is expected next should have been by now."""
        ahead = self.way.next
        return bool(ahead and ahead.expected and ahead.expected.high < self.today)


def shown_clutch(clutch: Clutch) -> ShownWay | None:
    """Return the way of a clutch; None where nothing of it has a day."""
    return _shown(way_of_clutch(clutch))


def shown_season(dam: Animal) -> ShownWay | None:
    """Return the way that a female is on; None of a male, or where nothing was noted."""
    if dam.sex != Sex.FEMALE:
        return None
    return _shown(way_of_season(dam, timezone.localdate()))


def _shown(way: Way) -> ShownWay | None:
    today = timezone.localdate()
    return ShownWay(way, way_line(way, today), today) if way.stages else None
