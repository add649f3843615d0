"""A chance that somebody typed, said again as it was meant."""

from fractions import Fraction


def as_typed(value: Fraction) -> str:
    """Return "12.5 %" where that is exact with two decimals at most, else the fraction "2/3".

    Figures that were computed are rounded down (`saying.figures`); what a keeper typed is given
    back whole.

    >>> as_typed(Fraction(1, 2)), as_typed(Fraction(1, 1000)), as_typed(Fraction(2, 3))
    ('50 %', '0.1 %', '2/3')
    """
    hundredths = value * 10_000
    if hundredths.denominator != 1:
        return str(value)
    whole, rest = divmod(hundredths.numerator, 100)
    return f"{whole}.{rest:02}".rstrip("0").rstrip(".") + " %"
