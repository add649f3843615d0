"""Codes that go on from those of the founders that are in the book."""

import re
from collections import defaultdict

from keeper.models import Animal

_SERIES = re.compile(r"(.*\D)(\d{1,9})")
_MOST = 4


def next_codes() -> list[str]:
    """Return the next code of each series of founders, the longest series first.

    A series is what stands before the number at the end of a code: F-013, F-014 → F-015. A book
    without founders begins with F-001 and M-001, a dam and a sire.
    """
    numbers: dict[str, list[str]] = defaultdict(list)
    codes = Animal.objects.live().filter(clutch=None, dam=None, sire=None)
    for code in codes.order_by("pk").values_list("code", flat=True):
        if found := _SERIES.fullmatch(code):
            numbers[found[1]].append(found[2])
    if not numbers:
        return ["F-001", "M-001"]
    longest = sorted(numbers, key=lambda stem: (-len(numbers[stem]), stem))[:_MOST]
    return [_next(stem, numbers[stem]) for stem in longest]


def _next(stem: str, used: list[str]) -> str:
    """The code after the highest, as wide as the widest; of any animal, founder or not."""
    width = max(map(len, used))
    number = max(map(int, used)) + 1
    taken = {
        code.lower()
        for code in Animal.objects.live()
        .filter(code__istartswith=stem)
        .values_list("code", flat=True)
    }
    while (code := f"{stem}{number:0{width}}").lower() in taken:
        number += 1
    return code
