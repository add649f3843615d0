"""The smallest checks: numbers, sums, names and genotype keys, with their messages.

Every check raises `MalformedCase`; its message names the value and says what would be accepted.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from fractions import Fraction
from typing import NoReturn, TypeGuard

from genetics.errors import MalformedCase
from genetics.keys import SINGLE, accepted_keys, genotype_keys
from genetics.population import Locus, Number, Sex, SexDetermination

TOLERANCE = 1e-9
"""How far the floating-point probabilities of one statement may sum from 1."""

MOST_HATCHLINGS = 1_000_000_000
"""Largest number of hatchlings in a tally line or a question."""

_LONGEST_SHOWN = 60
_MOST_LISTED = 12
_MOST_COMPARED = 2000


def refuse(place: str, message: str) -> NoReturn:
    """Raise `MalformedCase` at that place."""
    raise MalformedCase(place, message)


def shown(value: object) -> str:
    """A short, safe spelling of any value, for a message."""
    if isinstance(value, str):
        return f'"{_shortened(value)}"'
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list | tuple):
        return "an empty list" if not value else f"a list of {len(value)}"
    if isinstance(value, int) and value.bit_length() > 200:
        return f"a whole number of {value.bit_length()} binary digits"
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, Fraction) and value.denominator.bit_length() > 200:
        return f"about {float(value):.12g}"
    return _shortened(str(value))


def listed(values: Iterable[str], most: int = _MOST_LISTED) -> str:
    """The values in quotation marks, cut after `most` of them."""
    spelled = [shown(value) for value in values]
    if len(spelled) > most:
        spelled = [*spelled[:most], f"and {len(spelled) - most} more"]
    return ", ".join(spelled)


def nearest(name: str, names: Collection[str]) -> str | None:
    """The name most like the given one, or None where none is like it."""
    if len(name) > _LONGEST_SHOWN or len(names) > _MOST_COMPARED:
        return None
    from difflib import get_close_matches

    # At 0.5 an id of two letters of which one is wrong still counts as near.
    matches = get_close_matches(name, [each for each in names if len(each) < 200], 1, 0.5)
    return matches[0] if matches else None


def refuse_unknown(place: str, what: str, name: str, names: Collection[str]) -> NoReturn:
    """Say that no `what` has that id, and name the nearest or those there are."""
    near = nearest(name, names)
    if near is not None:
        hint = f"the nearest is {shown(near)}"
    elif not names:
        hint = f"expected the id of a recorded {what}, of which there are none"
    elif len(names) <= _MOST_LISTED:
        hint = f"accepted: {listed(names)}"
    else:
        hint = f"accepted: the id of one of the {len(names)} recorded"
    refuse(place, f"no {what} has the id {shown(name)}; {hint}")


def check_between(value: object, place: str, high: Fraction | int = 1) -> None:
    """Check that a value is a number from 0 to `high`, neither a truth value nor NaN.

    Raises:
        MalformedCase: it is not.
    """
    # The comparison is false for NaN and exact for fractions and huge whole numbers.
    if not _is_number(value) or not 0 <= value <= high:
        accepted = "0.5" if high == Fraction(1, 2) else str(high)
        refuse(place, f"{shown(value)} is not accepted; expected a number from 0 to {accepted}")


def check_weight(value: object, place: str) -> None:
    """Check that a value is a number of 0 or more that double precision can hold.

    Raises:
        MalformedCase: it is not.
    """
    if _is_number(value) and value >= 0:
        try:
            if math.isfinite(float(value)):
                return
        except OverflowError:
            pass
    refuse(place, f"{shown(value)} is not accepted; expected a number of 0 or more, below 1e308")


def check_count(value: object, place: str) -> None:
    """Check that a value is a whole number of hatchlings.

    Raises:
        MalformedCase: it is not, or it is negative or above `MOST_HATCHLINGS`.
    """
    if type(value) is not int or not 0 <= value <= MOST_HATCHLINGS:
        refuse(
            place,
            f"{shown(value)} is not accepted; expected a whole number from 0 to {MOST_HATCHLINGS}",
        )


def check_one(value: object, accepted: Sequence[str], place: str) -> None:
    """Check that a value is one of the accepted words.

    Raises:
        MalformedCase: it is not.
    """
    if value not in accepted:
        refuse(place, f"{shown(value)} is not accepted; expected one of {listed(accepted)}")


def total(values: Iterable[Number]) -> Fraction | float:
    """Sum of the values: exact where all are rational, else correctly rounded."""
    numbers = list(values)
    if any(isinstance(number, float) for number in numbers):
        return math.fsum(float(number) for number in numbers)
    return sum(numbers, Fraction(0))


def sums_to_one(values: Iterable[Number]) -> Fraction | float | None:
    """None where the values sum to 1 (exactly, if all are rational), else their sum."""
    whole = total(values)
    if isinstance(whole, float):
        return None if abs(whole - 1) <= TOLERANCE else whole
    return None if whole == 1 else whole


def check_distribution(values: Iterable[Number], place: str) -> None:
    """Check that checked probabilities sum to 1.

    Raises:
        MalformedCase: they do not; names the sum.
    """
    whole = sums_to_one(values)
    if whole is not None:
        refuse(place, f"probabilities sum to {shown(whole)}, not 1")


def check_key(
    key: str, locus: Locus, sex_determination: SexDetermination, sex: Sex, place: str
) -> None:
    """Check that a genotype key is spelled as the contract spells it and possible in that sex.

    Raises:
        MalformedCase: it is not; names the accepted spelling.
    """
    if key in accepted_keys(locus, sex_determination, sex):
        return
    whose = f"locus {shown(locus.id)}"
    if key in accepted_keys(locus, sex_determination):
        accepted = f"accepted in a {sex}: {_spelled(locus, sex_determination, sex)}"
        refuse(place, f"{shown(key)} at {whose} is not possible in a {sex}; {accepted}")
    turned = "/".join(reversed(key.split("/")))
    if turned in accepted_keys(locus, sex_determination, sex):
        refuse(
            place,
            f"{shown(key)} is not in the order of the alleles of {whose}; "
            f"accepted: {shown(turned)}",
        )
    accepted = f"accepted: {_spelled(locus, sex_determination, sex)}"
    refuse(place, f"{shown(key)} is not a genotype of {whose}; {accepted}")


def _spelled(locus: Locus, sex_determination: SexDetermination, sex: Sex) -> str:
    if sex != "unknown":
        return listed(genotype_keys(locus, sex_determination, sex))
    female = genotype_keys(locus, sex_determination, "female")
    male = genotype_keys(locus, sex_determination, "male")
    if female == male:
        return listed(female)
    return f"in a female {listed(female)}, in a male {listed(male)}"


def check_allele_name(allele: str, locus: Locus, place: str) -> None:
    """Check that an allele can be told from the rest of a genotype key.

    Raises:
        MalformedCase: it is empty, holds `/` or `|`, or is written like the other sex chromosome.
    """
    if not allele or "/" in allele or "|" in allele:
        refuse(place, f'{shown(allele)} is not accepted; expected a name without "/" and "|"')
    if allele == SINGLE.get(locus.chromosome):
        refuse(
            place,
            f"{shown(allele)} is not accepted at a locus of the {locus.chromosome}, where it is "
            "written for the other sex chromosome; expected another name",
        )


def _is_number(value: object) -> TypeGuard[Number]:
    return isinstance(value, int | float | Fraction) and not isinstance(value, bool)


def _shortened(text: str) -> str:
    start = text[:_LONGEST_SHOWN]
    safe = "".join(each if each.isprintable() else f"\\u{ord(each):04x}" for each in start)
    return safe if len(text) <= _LONGEST_SHOWN else f"{safe}…"
