"""Genes on the sex chromosomes: where they sit in an animal, and what its young get, in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from keeper.domain import inference
from keeper.domain.inference import Seat, Share
from keeper.domain.saying.figures import percent
from keeper.domain.saying.wording import Carried
from keeper.models import Animal, Chromosome, Line, Sex, SexDetermination

# A chance below this is said as "about 1 in so many", one above the other as "nearly all".
_RARE, _NEARLY = 0.1, 0.9
_SAME = 1e-9


@dataclass(frozen=True)
class Seated:
    """One line on the sex chromosomes of an animal, in words.

    Attributes:
        where: on which chromosome, how sure: "on his X, 98 %; on his Y, 2 %".
        young: what sons and daughters get.
        shown: what they show; empty where that does not rest on this gene alone.
        crossing: how often it changes over, where it does.
        disputed: whether the figure rests on records that cannot all be true; then no words.
    """

    line: Line
    where: str = ""
    young: str = ""
    shown: str = ""
    crossing: str = ""
    disputed: bool = False


@dataclass(frozen=True)
class SexLinkedPart:
    """The part of an animal's page on its sex chromosomes.

    Attributes:
        seats: each line that it may carry there.
        missing: what has to be known first; empty: nothing.
        sex_word: "male" or "female".
        conflict: records that cannot all be true, in words; the newest is left out.
    """

    seats: tuple[Seated, ...]
    missing: str = ""
    conflict: tuple[str, ...] = ()


def sex_linked_part(animal: Animal, own: Sequence[Carried]) -> SexLinkedPart | None:
    """Return the part, or None if it may carry nothing on the sex chromosomes."""
    standings = [row for one in own for row in one.by_line]
    lines = {
        line.pk: line
        for line in Line.objects.filter(pk__in=[row.line_id for row in standings])
        .exclude(locus__chromosome=Chromosome.AUTOSOME)
        .select_related("trait")
        .order_by("trait__name", "code")
    }
    if not lines:
        return None
    if animal.sex == Sex.UNKNOWN:
        names = ", ".join(str(line) for line in lines.values())
        missing = (
            f"Its sex is not known yet. On which chromosome {names} sits, and what sons and "
            "daughters would get, is said here once it is."
        )
        return SexLinkedPart((), missing)
    try:
        answer = inference.sex_linked(animal)
    except inference.Unanswerable as error:
        return SexLinkedPart((), str(error))
    disputed = {row.line_id for row in standings if row.is_disputed}
    seats = {seat.line: seat for seat in answer.seats}
    return SexLinkedPart(
        tuple(
            Seated(line, disputed=True) if pk in disputed else _seated(animal, line, seats[pk])
            for pk, line in lines.items()
            if pk in seats or pk in disputed
        ),
        conflict=answer.conflict,
    )


def _seated(animal: Animal, line: Line, seat: Seat) -> Seated:
    his = "his" if animal.sex == Sex.MALE else "her"
    return Seated(
        line=line,
        where=_where(animal, seat, his),
        young=young_words(seat.sons, seat.daughters, his),
        shown=_shown(seat),
        crossing=(
            f"It changes over to the other chromosome in {percent(seat.crossover)} of what "
            f"{'he' if his == 'his' else 'she'} passes on."
            if seat.on_both and seat.heterogametic and seat.crossover > 0
            else ""
        ),
    )


def _where(animal: Animal, seat: Seat, his: str) -> str:
    xy = animal.species.sex_determination == SexDetermination.XY
    first, second = ("X", "Y") if xy else ("Z", "W")
    places: tuple[tuple[str, float], ...]
    if not seat.heterogametic:
        one, two = f"on one {first}", f"on both of {his} {first}"
        places = ((one, seat.first), (two, seat.two))
    elif not seat.on_both:
        places = ((f"on {his} {first}, where alone it can sit", seat.first),)
    else:
        places = (
            (f"on {his} {first}", seat.first),
            (f"on {his} {second}", seat.second),
            ("on both", seat.two),
        )
    possible = sorted((row for row in places if row[1] > 0), key=lambda row: -row[1])
    if len(possible) == 1 and seat.none == 0:
        return f"{possible[0][0]}, for certain"
    words = ", ".join(f"{place} {percent(chance)}" for place, chance in possible)
    if seat.none > 0:
        words += f", not there at all {percent(seat.none)}"
    return words


def young_words(sons: Share, daughters: Share, his: str) -> str:
    """Return what each sex gets, the larger part first.

    "nearly all his daughters get it (98 %), and of his sons about 1 in 50".
    """
    if abs(sons.carry - daughters.carry) < _SAME:
        return f"{_part(sons.carry, his, 'young')}, sons and daughters alike"
    rows = [("sons", sons.carry), ("daughters", daughters.carry)]
    rows.sort(key=lambda row: -row[1])
    (more, most), (fewer, least) = rows
    return f"{_part(most, his, more)}, and {_rest(least, his, fewer)}"


def _part(chance: float, his: str, whose: str) -> str:
    if chance >= 1:
        return f"all {his} {whose} get it"
    if chance <= 0:
        return f"none of {his} {whose} gets it"
    if chance >= _NEARLY:
        return f"nearly all {his} {whose} get it ({percent(chance)})"
    if abs(chance - 0.5) < _SAME:
        return f"half of {his} {whose} get it"
    if chance <= _RARE:
        return f"about 1 in {round(1 / chance)} of {his} {whose} gets it"
    return f"{percent(chance)} of {his} {whose} get it"


def _rest(chance: float, his: str, whose: str) -> str:
    if chance <= 0:
        return f"of {his} {whose} none"
    if chance <= _RARE:
        return f"of {his} {whose} about 1 in {round(1 / chance)}"
    if abs(chance - 0.5) < _SAME:
        return f"of {his} {whose} half"
    return f"of {his} {whose} {percent(chance)}"


def _shown(seat: Seat) -> str:
    """What sons and daughters show of it."""
    sons, daughters = seat.sons, seat.daughters
    if sons.show is None or daughters.show is None:
        return ""
    if sons.show == 0 and daughters.show == 0:
        return "None of them shows it: that takes another copy from the mate."
    if _all_show(sons) and _all_show(daughters):
        return "Whoever gets it shows it."
    if daughters.show == 0 and _all_show(sons):
        return "Sons that get it show it; daughters carry it unseen."
    if sons.show == 0 and _all_show(daughters):
        return "Daughters that get it show it; sons carry it unseen."
    both = f"{percent(sons.show)} of the sons and {percent(daughters.show)} of the daughters"
    return f"It shows in {both}."


def _all_show(share: Share) -> bool:
    return share.show is not None and abs(share.show - share.carry) < _SAME
