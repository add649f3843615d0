"""The strip: a bar divided by the chances of two, one and no copies, as numbers to draw.

Pages and sheets draw the same shapes: solid ink for two copies, diagonal hatching for one, empty
for none, a marker under the customary figure. Hatching is drawn line by line, because a shared
pattern would need an identifier that two strips of one page would both have.
"""

from dataclasses import dataclass

from keeper.domain.saying.figures import carrier_percent, percent
from keeper.models import Standing

LENGTH, HEIGHT = 120.0, 10.0
_STEP = 5.0
# What is possible shows, however unlikely; what is not certain never looks whole.
_LEAST = 2.0


@dataclass(frozen=True)
class Strip:
    """A strip to draw, in a frame of LENGTH by HEIGHT.

    Attributes:
        two: where the solid part ends.
        one: where the hatched part, which begins there, ends.
        hatching: path of the hatched part's lines.
        marker: where the customary figure lies, or None where it is the same.
        disputed: whether the outline is broken.
    """

    two: float
    one: float
    hatching: str
    marker: float | None
    disputed: bool


def strip(standing: Standing) -> Strip:
    """Return the strip of a standing."""
    widths = _widths((standing.two, standing.one, standing.none))
    solid, hatched = round(widths[0], 2), round(widths[0] + widths[1], 2)
    return Strip(
        two=solid,
        one=hatched,
        hatching=_hatching(solid, hatched),
        marker=_marker(standing),
        disputed=standing.is_disputed,
    )


def _widths(chances: tuple[float, float, float]) -> list[float]:
    least = [_LEAST if chance > 0 else 0.0 for chance in chances]
    whole = sum(chances) or 1.0
    room = LENGTH - sum(least)
    return [low + room * chance / whole for low, chance in zip(least, chances, strict=True)]


def _hatching(begin: float, end: float) -> str:
    """Lines rising to the right at 45 degrees, cut at both ends."""
    lines = []
    foot = begin - HEIGHT + _STEP / 2
    while foot < end:
        left, right = max(foot, begin), min(foot + HEIGHT, end)
        if right > left:
            low, high = HEIGHT - (left - foot), HEIGHT - (right - foot)
            lines.append(f"M{left:.4g} {low:.4g}L{right:.4g} {high:.4g}")
        foot += _STEP
    return "".join(lines)


def _marker(standing: Standing) -> float | None:
    if standing.customary is None:
        return None
    claimed = percent(standing.carries, certain=standing.none == 0)
    if percent(standing.customary) in (claimed, carrier_percent(standing)):
        return None
    return round(LENGTH * standing.customary, 2)
