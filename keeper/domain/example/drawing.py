"""Pictures of the example's animals: coiled snakes, drawn from nothing but a seed and a look.

A body is a spiral of discs from the tail inside to the head outside. What an animal shows decides
its colours and its pattern (`dressed`); the seed decides how it lies and where its marks fall. The
same seed and look give the same bytes. All drawn here; no picture of a real animal is behind it.
"""

import io
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from math import cos, pi, sin
from random import Random
from typing import Any

# Pixels of what is kept; it is drawn larger and made smaller, so that edges are smooth.
WIDTH, HEIGHT = 280, 210
_DRAWN = (720, 540)
_STEPS = 240
_QUALITY = 58
# The part of the body that is the tip of its tail, and what goes round all of it.
_TIP = 0.14
_OUTLINE = (70, 62, 54)

Colour = tuple[int, int, int]


@dataclass(frozen=True)
class Dress:
    """Colours and pattern of a snake; every share is of the body's half width.

    Attributes:
        ground, mark, edge, side: the back, its marks, what borders them, and the flanks.
        marks: how many blotches from neck to tail; 0: none.
        rings: how many narrow rings; 0: none.
        stripe: the colour of a line along the spine, if there is one.
        freckles: how many dots, and their colour.
        bare_neck: the share of the body, from the neck on, that has no marks.
        tail: the colour of the tail's tip, if it is another.
    """

    ground: Colour
    mark: Colour
    edge: Colour
    side: Colour
    marks: int = 16
    rings: int = 0
    stripe: Colour | None = None
    freckles: tuple[int, Colour] = (0, (0, 0, 0))
    bare_neck: float = 0.0
    tail: Colour | None = None


_ROYAL = Dress((62, 44, 32), (171, 126, 74), (30, 22, 18), (196, 178, 150))
_CORN = Dress((214, 140, 74), (168, 62, 34), (44, 26, 20), (232, 214, 186), marks=22)


def dressed(species: str, shown: Collection[str]) -> Dress:
    """Return how an animal of a species looks that shows these traits of the example.

    What covers everything comes last; a trait without a dress of its own changes nothing.
    """
    dress = _CORN if species == "Corn snake" else _ROYAL
    for trait, changes in _CHANGES.items():
        if trait in shown:
            dress = replace(dress, **changes)
    return dress


_CHANGES: dict[str, dict[str, Any]] = {
    "Saltgrass": {"ground": (226, 196, 120), "mark": (246, 226, 164), "edge": (206, 168, 92)}
    | {"side": (248, 240, 216)},
    "Bogmyrtle": {"ground": (122, 52, 34), "mark": (176, 92, 60), "bare_neck": 0.35},
    "Quillwort": {"marks": 0, "rings": 44},
    "Squallmark": {"marks": 30, "edge": (12, 12, 16)},
    "Marrowglass": {"ground": (128, 132, 134), "mark": (150, 153, 153), "edge": (118, 121, 123)},
    "Kelpwash": {"stripe": (96, 58, 26)},
    "Halftide": {"ground": (186, 192, 198), "mark": (204, 208, 212), "edge": (170, 176, 182)}
    | {"stripe": (110, 70, 38)},
    "Samphire": {"freckles": (150, (224, 150, 44))},
    "Bright Samphire": {"freckles": (420, (244, 170, 40))},
    "Mizzle": {"freckles": (520, (168, 170, 172))},
    "Cottonsedge": {"tail": (250, 250, 246)},
    "Thrift": {"ground": (244, 176, 164), "mark": (228, 118, 118), "edge": (250, 214, 204)},
    "Harebell": {"side": (150, 186, 226)},
    "Flintback": {"ground": (140, 140, 142)},
    "Deep Flintback": {"ground": (92, 94, 98), "mark": (112, 76, 70)},
    "Breakwater": {"ground": (246, 246, 242), "mark": (250, 250, 248), "edge": (240, 240, 236)}
    | {"side": (252, 252, 250), "stripe": None, "freckles": (0, (0, 0, 0)), "rings": 0},
}


@dataclass(frozen=True)
class _Disc:
    """One disc of the body: its middle, its radius, which way it goes, and its place 0 to 1."""

    x: float
    y: float
    radius: float
    across: tuple[float, float]
    place: float


def portrait(species: str, shown: Collection[str], seed: str) -> bytes:
    """Return a JPEG of an animal, WIDTH by HEIGHT pixels."""
    from PIL import Image, ImageDraw

    luck = Random(f"{species}/{seed}")
    dress = dressed(species, shown)
    shade = luck.randint(214, 228)
    picture = Image.new("RGB", _DRAWN, (shade, shade - 2, shade - 10))
    pen = ImageDraw.Draw(picture)
    body = list(_body(luck))
    for disc in body:
        _disc(pen, disc, disc.radius + 4, _OUTLINE)
    for disc in body:
        _disc(pen, disc, disc.radius, dress.side)
    for disc in body:
        _disc(pen, disc, disc.radius * 0.8, _back(dress, disc))
    _blotches(pen, dress, body)
    for disc in body:
        _ring(pen, dress, disc)
    _stripe(pen, dress, body)
    _freckles(pen, dress, body, luck)
    _head(pen, dress, body[-1])
    out = io.BytesIO()
    small = picture.resize((WIDTH, HEIGHT), Image.Resampling.BOX)
    small.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()


def _body(luck: Random) -> Iterator[_Disc]:
    """The discs from tail to head, on a spiral that opens."""
    turns, start = luck.uniform(2.3, 2.5), luck.uniform(0, 2 * pi)
    way = luck.choice((-1, 1))
    middle = (_DRAWN[0] / 2, _DRAWN[1] / 2)
    for step in range(_STEPS):
        place = step / (_STEPS - 1)
        angle = start + way * turns * 2 * pi * place**0.8
        far = 30 + 192 * place**0.8
        thick = 9 + 23 * min(1.0, place * 2.2)
        radius = thick if place < 0.9 else thick * (1 - 4 * (place - 0.9))
        x, y = middle[0] + far * cos(angle) * 1.18, middle[1] + far * sin(angle)
        yield _Disc(x, y, radius, (cos(angle), sin(angle)), place)


def _disc(pen: Any, at: _Disc, radius: float, colour: Colour) -> None:
    pen.ellipse((at.x - radius, at.y - radius, at.x + radius, at.y + radius), fill=colour)


def _back(dress: Dress, at: _Disc) -> Colour:
    return dress.tail if dress.tail is not None and at.place < _TIP else dress.ground


def _blotches(pen: Any, dress: Dress, body: list[_Disc]) -> None:
    """The marks along the back, each with its border below it."""
    if not dress.marks:
        return
    marked = [one for one in body if not _is_plain(dress, one)]
    for reach, share, colour in ((0.66, 0.36, dress.edge), (0.54, 0.26, dress.mark)):
        for disc in marked:
            if abs(disc.place * dress.marks % 1 - 0.5) < share:
                _disc(pen, disc, disc.radius * reach, colour)


def _is_plain(dress: Dress, at: _Disc) -> bool:
    on_tail = dress.tail is not None and at.place < _TIP
    return on_tail or at.place > 1 - max(0.05, dress.bare_neck)


def _ring(pen: Any, dress: Dress, at: _Disc) -> None:
    if not dress.rings or at.place * dress.rings % 1 > dress.rings / _STEPS:
        return
    (dx, dy), far = at.across, at.radius * 0.9
    line = (at.x - dx * far, at.y - dy * far, at.x + dx * far, at.y + dy * far)
    pen.line(line, fill=dress.edge, width=6)


def _stripe(pen: Any, dress: Dress, body: list[_Disc]) -> None:
    if dress.stripe is not None:
        for disc in body:
            _disc(pen, disc, max(2.0, disc.radius * 0.2), dress.stripe)


def _freckles(pen: Any, dress: Dress, body: list[_Disc], luck: Random) -> None:
    count, colour = dress.freckles
    for _ in range(count):
        disc, off = luck.choice(body), luck.uniform(-0.75, 0.75)
        away = disc.radius * off
        x, y = disc.x + disc.across[0] * away, disc.y + disc.across[1] * away
        size = luck.uniform(1.5, 3.5)
        pen.ellipse((x - size, y - size, x + size, y + size), fill=colour)


def _head(pen: Any, dress: Dress, neck: _Disc) -> None:
    """The head, round and a little wider than the neck, with its eyes."""
    _disc(pen, neck, 34, _OUTLINE)
    _disc(pen, neck, 30, dress.ground)
    for side in (-1, 1):
        x, y = neck.x + neck.across[0] * 20 * side, neck.y + neck.across[1] * 20 * side
        pen.ellipse((x - 6, y - 6, x + 6, y + 6), fill=(24, 20, 18))
        pen.ellipse((x - 3, y - 4, x, y - 1), fill=(236, 232, 220))
