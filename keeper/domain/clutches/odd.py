"""What looks odd about a clutch, in sentences that name the fact; each can be insisted on."""

import re
from collections.abc import Iterator, Sequence
from datetime import date

from keeper.domain.animals.odd import in_full, kept_elsewhere, too_young
from keeper.domain.book.odd_codes import odd_code
from keeper.domain.saying.counts import how_many
from keeper.models import Animal, CandidateSire, Clutch

_OF_A_YEAR = re.compile(r"(\d\d)-\d+")


def odd_clutch(
    clutch: Clutch, sires: Sequence[Animal | None], code_before: str = ""
) -> Iterator[str]:
    """Yield what may be wrong with a clutch as it is being written, with these candidates."""
    yield from odd_code(clutch, code_before)
    yield from _twice(clutch, sires)
    yield from _eggs(clutch)
    yield from odd_incubation(clutch)
    if (laid := clutch.laid_on) is None:
        return
    yield from _code_andin_full(clutch, laid)
    if clutch.dam is not None:
        yield from too_young(clutch.dam, laid, "was laid")
        yield from kept_elsewhere(clutch.dam, laid)
    for sire in sires:
        if sire is not None and sire.hatched_on and sire.hatched_on >= laid:
            yield f"{sire} hatched on {in_full(sire.hatched_on)}, and the clutch was laid before."
    yield from _young(clutch, laid)


def odd_incubation(clutch: Clutch) -> Iterator[str]:
    """Yield if a clutch hatched sooner or later than its species does."""
    if clutch.laid_on is None or clutch.hatched_on is None:
        return
    days = (clutch.hatched_on - clutch.laid_on).days
    least, most = clutch.species.incubation_span
    if not least <= days <= most:
        yield (
            f"{how_many(days, 'day')} from laying to hatching; of {clutch.species} "
            f"{least} to {most} are expected."
        )


def _eggs(clutch: Clutch) -> Iterator[str]:
    most = clutch.species.eggs_span
    if clutch.eggs is not None and clutch.eggs > most:
        yield f"{clutch.eggs} eggs; of {clutch.species} {most} at most are expected."


def _twice(clutch: Clutch, sires: Sequence[Animal | None]) -> Iterator[str]:
    if clutch.laid_on is None:
        return
    same = Clutch.objects.live().filter(
        dam=clutch.dam, laid_on=clutch.laid_on, species=clutch.species
    )
    mine = {sire.pk if sire is not None else None for sire in sires}
    for other in same.exclude(pk=clutch.pk).order_by("pk"):
        males = CandidateSire.objects.live().filter(clutch=other)
        if other.eggs == clutch.eggs and set(males.values_list("sire", flat=True)) == mine:
            yield (
                f"Clutch {other} is of the same parents, laid on the same day, with as many eggs. "
                "Hatched both, the same young would count twice."
            )
        elif clutch.dam is not None:
            yield (
                f"Clutch {other} is of {clutch.dam} too, laid on the same day. Is this another "
                "one? Of one clutch entered twice the same young would count twice."
            )


def _code_andin_full(clutch: Clutch, laid: date) -> Iterator[str]:
    found = _OF_A_YEAR.fullmatch(clutch.code)
    if found and int(found[1]) != laid.year % 100:
        yield f"{clutch} reads as a clutch of 20{found[1]}, and it was laid in {laid.year}."
    if Animal.objects.live().filter(code__iexact=clutch.code).exists():
        yield f"An animal has the code {clutch} too."


def _young(clutch: Clutch, laid: date) -> Iterator[str]:
    young = Animal.objects.live().filter(clutch=clutch, hatched_on__lte=laid)
    for one in young.order_by("code")[:1]:
        yield f"{one} of this clutch hatched on {in_full(one.hatched_on)}, before it was laid."
