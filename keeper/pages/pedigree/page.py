"""A pedigree's page: what was asked for in its address, and the other ways to see it."""

from collections.abc import Mapping
from dataclasses import dataclass

from keeper.domain.pedigree.drawing import DOWN, UP, Asked
from keeper.domain.pedigree.marks import Picture

# Key in the address → name, times as large; 0: as wide as the page.
SIZES = {"small": ("smaller", 0.7), "plain": ("as it is", 1.0), "large": ("larger", 1.5),
         "whole": ("the whole of it", 0.0)}  # fmt: skip
_UPS = range(1, 7)
_DOWNS = range(4)


@dataclass(frozen=True)
class Scale:
    """Width and height of the drawing on the page, as numbers or parts of it."""

    width: str
    height: str


@dataclass(frozen=True)
class Choice:
    """One thing to choose: its value in the address, its words, whether it is chosen."""

    value: str
    words: str
    chosen: bool


@dataclass(frozen=True)
class PedigreePage:
    """A pedigree and what may be asked of it; `ups` or `downs` empty: not to be asked here."""

    picture: Picture
    scale: Scale
    genes: tuple[Choice, ...]
    ups: tuple[Choice, ...]
    downs: tuple[Choice, ...]
    sizes: tuple[Choice, ...]
    back: str
    back_words: str


def asked(given: Mapping[str, str]) -> Asked:
    """Return what an address asks for; what means nothing is as if it were not said."""
    return Asked(
        gene=given.get("gene", ""),
        up=_number(given.get("up", ""), _UPS, UP),
        down=_number(given.get("down", ""), _DOWNS, DOWN),
    )


def _number(text: str, allowed: range, usual: int) -> int:
    return next((one for one in allowed if str(one) == text), usual)


def pedigree_page(
    picture: Picture,
    of: Asked,
    *,
    size: str,
    back: tuple[str, str],
    up: bool = True,
    down: bool = False,
) -> PedigreePage:
    """Return a page; `back`: the address and the words of where it leads back."""
    size = size if size in SIZES else "plain"
    return PedigreePage(
        picture=picture,
        scale=_scale(picture, SIZES[size][1]),
        genes=tuple(
            Choice(one.key, str(one), picture.gene is not None and one.key == picture.gene.key)
            for one in picture.genes
        ),
        ups=_choices(_UPS, of.up) if up else (),
        downs=_choices(_DOWNS, of.down) if down else (),
        sizes=tuple(Choice(key, words, key == size) for key, (words, _) in SIZES.items()),
        back=back[0],
        back_words=back[1],
    )


def _choices(numbers: range, chosen: int) -> tuple[Choice, ...]:
    return tuple(Choice(str(one), str(one) if one else "none", one == chosen) for one in numbers)


def _scale(picture: Picture, times: float) -> Scale:
    if not times:
        return Scale("100%", "")
    return Scale(f"{picture.width * times:.0f}", f"{picture.height * times:.0f}")
