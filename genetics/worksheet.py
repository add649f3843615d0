"""The sheet on which a working is written: symbols, what they stand for, steps, MathML.

Symbols and formulas are SymPy's, which has no types to offer: they are `Formula` here and
nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from genetics.checks import check_between, refuse
from genetics.population import Number

MATHML = "http://www.w3.org/1998/Math/MathML"


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a working: words, the equation as plain text, and in presentation MathML."""

    text: str
    plain: str
    mathml: str


@dataclass(frozen=True, slots=True)
class Working:
    """An exact chance with the way to it.

    Attributes:
        result: the chance.
        formula: the chance in terms of what is given, as plain text (`^` powers, `×` products).
        steps: what is given, then each figure derived from it.
        mathml: formula, formula with the numbers put in, and result, as one equation.
    """

    result: Fraction
    formula: str
    steps: tuple[Step, ...]
    mathml: str


Chance = Number | Working
Formula = Any
"""A symbol or formula of SymPy, one of its printers, or what one of these makes."""


@dataclass(frozen=True, slots=True)
class Parent:
    """What is known of a parent: its chances of one copy (a carrier) and of two (it shows)."""

    carrier: Chance
    shows: Chance = 0


def exact(number: Number) -> Fraction:
    """The number as a fraction; a float as the decimal that it prints as.

    >>> exact(0.9)
    Fraction(9, 10)
    """
    return Fraction(repr(number)) if isinstance(number, float) else Fraction(number)


def ratio(number: Fraction) -> Formula:
    """The number as SymPy writes it."""
    import sympy

    return sympy.Rational(number.numerator, number.denominator)


def _is_nothing(chance: Chance) -> bool:
    return not isinstance(chance, Working) and chance == 0 and not isinstance(chance, bool)


def _bare(side: str) -> str:
    text = side.replace("<mrow>", "").replace("</mrow>", "")
    text = text.removeprefix("<mfenced>").removesuffix("</mfenced>")
    whole = text.startswith("(") and text.endswith(")") and text.count("(") == 1
    return text[1:-1] if whole else text


class Sheet:
    """A working as it is written: symbols with their values and definitions, and the steps."""

    def __init__(self) -> None:
        self.values: dict[Formula, Formula] = {}
        self.definitions: dict[Formula, Formula] = {}
        self.steps: list[Step] = []

    def given(self, name: str, chance: Chance, place: str, text: str) -> Formula:
        """A symbol for a number that is given; `place` "" for a number checked before."""
        import sympy

        if isinstance(chance, Working):
            self.steps += chance.steps
            chance = chance.result
        elif place:
            check_between(chance, place)
        symbol = sympy.Symbol(name)
        self.values[symbol] = ratio(exact(chance))
        self._write(text, symbol, [self.values[symbol]])
        return symbol

    def unless_zero(self, name: str, chance: Chance, place: str, text: str) -> Formula:
        """As `given`; a plain 0 stays out of the formula."""
        if _is_nothing(chance):
            return ratio(Fraction(0))
        return self.given(name, chance, place, text)

    def unless_one(self, name: str, chance: Chance, place: str, text: str) -> Formula:
        """As `given`; a plain 1 stays out of the formula."""
        if not isinstance(chance, Working) and chance == 1 and not isinstance(chance, bool):
            return ratio(Fraction(1))
        return self.given(name, chance, place, text)

    def parent(self, parent: Parent, who: str) -> tuple[Formula, Formula]:
        """Symbols for a parent's chances of one and of two copies."""
        name = "parent with two such chromosomes" if who == "double" else who
        # Of one that is sure to show, that it has not one copy need not be said.
        give = self.given if _is_nothing(parent.shows) else self.unless_zero
        c = give(
            f"c_{who}", parent.carrier, f"{who}.carrier", f"Chance that the {name} has one copy"
        )
        s = self.unless_zero(
            f"s_{who}", parent.shows, f"{who}.shows", f"Chance that the {name} has two copies"
        )
        if self.value(c + s) > 1:
            refuse(who, f"chances sum to {self.value(c + s)}; expected at most 1")
        return c, s

    def passed(self, parent: Parent, who: str) -> Formula:
        """A symbol for the chance that a parent passes the allele on; 0 if it plainly has none."""
        if _is_nothing(parent.carrier) and _is_nothing(parent.shows):
            return ratio(Fraction(0))
        c, s = self.parent(parent, who)
        name = "that parent" if who == "double" else f"the {who}"
        return self.derive(f"g_{who}", c / 2 + s, f"Chance that {name} passes the allele on")

    def clean(self, c: Formula, s: Formula, n: Formula, text: str) -> Formula:
        """A symbol for the chance of n clean offspring of a carrier and a mate known by c and s."""
        half, three_quarters = ratio(Fraction(1, 2)), ratio(Fraction(3, 4))
        return self.derive("L", c * three_quarters**n + s * half**n + (1 - c - s), text)

    def derive(self, name: str, formula: Formula, text: str) -> Formula:
        """A symbol for a figure that follows from earlier ones."""
        import sympy

        symbol = sympy.Symbol(name)
        self._write(text, symbol, self._chain(formula))
        self.definitions[symbol] = self._in_givens(formula)
        self.values[symbol] = ratio(self.value(formula))
        return symbol

    def close(self, name: str, formula: Formula, text: str) -> Working:
        """The finished working, the last figure in terms of what is given."""
        symbol = self.derive(name, formula, text)
        whole = self.definitions[symbol]
        return Working(
            self.value(symbol),
            _plain(whole, {}),
            tuple(self.steps),
            self._mathml(symbol, self._chain(whole)),
        )

    def value(self, formula: Formula) -> Fraction:
        """A formula with the numbers put in."""
        import sympy

        number = sympy.Rational(sympy.sympify(formula).subs(self.values))
        return Fraction(int(number.p), int(number.q))

    def _in_givens(self, formula: Formula) -> Formula:
        return formula.subs(self.definitions)

    def _chain(self, formula: Formula) -> list[Formula]:
        """Formula and value, between which the numbers are put in."""
        return [formula, ratio(self.value(formula))]

    def _sides(self, chain: list[Formula], write: Formula) -> list[str]:
        """Each side of the equation once, the numbers put in where there are symbols."""
        first, last = write(chain[0], {}), write(chain[-1], {})
        filled = write(chain[0], {symbol.name: v for symbol, v in self.values.items()})
        found: list[str] = []
        for side in (first, filled, last):
            # Brackets around a whole side, and rows in markup, make no new side of it.
            if not found or _bare(side) != _bare(found[-1]):
                found.append(side)
            else:
                found[-1] = min(side, found[-1], key=len)
        return found

    def _write(self, text: str, symbol: Formula, chain: list[Formula]) -> None:
        plain = " = ".join([symbol.name, *self._sides(chain, _plain)])
        self.steps.append(Step(text, plain, self._mathml(symbol, chain)))

    def _mathml(self, symbol: Formula, chain: list[Formula]) -> str:
        sides = [_presented(symbol, {}), *self._sides(chain, _presented)]
        return (
            f'<math xmlns="{MATHML}" display="block"><mrow>'
            + "<mo>=</mo>".join(sides)
            + "</mrow></math>"
        )


def _plain(formula: Formula, numbers: dict[str, Formula]) -> str:
    """A formula as plain text, with numbers in the place of symbols that have some."""
    printer = _printers()[0]({"order": "none"})
    printer.numbers = numbers
    text: str = printer.doprint(formula)
    return text.replace("**", "^").replace("*", " × ")


def _presented(formula: Formula, numbers: dict[str, Formula]) -> str:
    """A formula in presentation MathML, with numbers in the place of symbols that have some."""
    printer = _printers()[1]({"mul_symbol": "times", "order": "none"})
    printer.numbers = numbers
    markup: str = printer._print(formula).toxml()
    return markup


@lru_cache(maxsize=1)
def _printers() -> tuple[Formula, Formula]:
    """SymPy's printers of text and of MathML, made to print numbers for symbols.

    Numbers are put in while printing, for SymPy would work them out at once.
    """
    import sympy
    from sympy.printing.mathml import MathMLPresentationPrinter
    from sympy.printing.str import StrPrinter

    class Text(StrPrinter):  # type: ignore[misc]
        numbers: dict[str, Formula]

        def _print_Symbol(self, expr: Formula) -> Formula:
            number = self.numbers.get(expr.name)
            if number is None:
                return super()._print_Symbol(expr)
            return str(number) if number.is_Integer else f"({number})"

    class Markup(MathMLPresentationPrinter):  # type: ignore[misc]
        numbers: dict[str, Formula]

        def _print_Symbol(self, sym: Formula, style: str = "plain") -> Formula:
            number = self.numbers.get(sym.name)
            if number is None:
                return super()._print_Symbol(sym, style=style)
            return self._print(number)

        def _print_Pow(self, e: Formula) -> Formula:
            number = self.numbers.get(e.base.name) if e.base.is_Symbol else None
            if number is None or number.is_Integer:
                return super()._print_Pow(e)
            # A fraction needs brackets before its exponent, which a symbol does not.
            return super()._print_Pow(sympy.Pow(number, e.exp, evaluate=False))

    return Text, Markup
