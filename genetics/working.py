"""Workings on paper for the common situations: exact results, formulas, MathML.

Everything here is about one autosomal locus with a recessive mutant allele (one X- or Z-linked
in `single_copy_offspring`): an animal with one copy is a carrier and looks normal, one with two
copies shows.  Animals named in one situation are unrelated.  Where an earlier chance goes into
a situation, the `Working` that gave it may be handed over instead of a number: its steps then
come first.

Numbers may be whole, `Fraction` or `float`; a float means the decimal that it prints as, so that
0.9 is 9/10.

>>> sibling = normal_child(Parent(1), Parent(1))
>>> sibling.result
Fraction(2, 3)
>>> clean_offspring(sibling, 8, Parent(1)).result
Fraction(6561, 39329)
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from genetics.checks import check_between, check_count, refuse, shown
from genetics.errors import ImpossibleEvidence
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


@dataclass(frozen=True, slots=True)
class Parent:
    """What is known of a parent: its chances of one copy (a carrier) and of two (it shows)."""

    carrier: Chance
    shows: Chance = 0


def parents_cross(dam: Parent, sire: Parent, *, copies: int) -> Working:
    """Chance that a child of two parents has 0, 1 or 2 copies.

    With c the chance of one copy and s of two, a parent passes the allele on with g = c/2 + s;
    then P₀ = (1 − g)(1 − h), P₁ = g(1 − h) + h(1 − g), P₂ = gh.

    Raises:
        MalformedCase: a chance is not from 0 to 1, or `copies` none of 0, 1, 2.

    Reference: Mendel's law of segregation.
    """
    if copies not in (0, 1, 2):
        refuse("copies", f"{shown(copies)} is not accepted; expected 0, 1 or 2")
    sheet = _Sheet()
    g, h = sheet.passed(dam, "dam"), sheet.passed(sire, "sire")
    wanted = ((1 - g) * (1 - h), g * (1 - h) + h * (1 - g), g * h)[copies]
    text = (
        "Chance that a child has no copy",
        "Chance that a child has one copy",
        "Chance that a child has two copies",
    )[copies]
    return sheet.close(f"P_{copies}", wanted, text)


def normal_child(dam: Parent, sire: Parent) -> Working:
    """Chance that a child that looks normal is a carrier, before anything else is known of it.

    P = (g(1 − h) + h(1 − g)) / (1 − gh) with g and h as in `parents_cross`; two carriers give
    2/3, the "66 % het" of the trade.

    Raises:
        MalformedCase: a chance is not from 0 to 1.
        ImpossibleEvidence: both parents are sure to show, so that no child looks normal.

    Reference: Mendel's law of segregation; Bayes' rule.
    """
    sheet = _Sheet()
    g, h = sheet.passed(dam, "dam"), sheet.passed(sire, "sire")
    one = sheet.derive("P_1", g * (1 - h) + h * (1 - g), "Chance that a child has one copy")
    normal = sheet.derive("N", 1 - g * h, "Chance that a child looks normal")
    if not sheet.value(normal):
        raise ImpossibleEvidence("no child of two animals that both show can look normal")
    return sheet.close("P", one / normal, "Chance of one copy among those that look normal")


def normal_stranger(frequency: Number) -> Working:
    """Chance that an animal that looks normal, from a background of known frequency, carries.

    P = 2f(1 − f) / (1 − f²) = 2f / (1 + f), in Hardy–Weinberg proportions.

    Raises:
        MalformedCase: the frequency is not from 0 to 1.
        ImpossibleEvidence: the frequency is 1, so that no animal looks normal.

    Reference: Hardy–Weinberg proportions; Bayes' rule.
    """
    sheet = _Sheet()
    f = sheet.given("f", frequency, "frequency", "Frequency of the allele in the background")
    one = sheet.derive("P_1", 2 * f * (1 - f), "Chance of one copy")
    normal = sheet.derive("N", 1 - f**2, "Chance of looking normal")
    if not sheet.value(normal):
        raise ImpossibleEvidence("no animal looks normal where every allele is the mutant")
    return sheet.close("P", one / normal, "Chance of one copy among those that look normal")


def clean_offspring(prior: Chance, offspring: int, mate: Parent) -> Working:
    """Chance that an animal carries after a number of normal-looking offspring of one mate.

    P = pL / (pL + 1 − p).  L is the chance of n clean offspring if it carries,
    c(3/4)ⁿ + s(1/2)ⁿ + 1 − c − s with the mate's chances c of one copy and s of two; the mate is
    the same for all n, so that its chances are not multiplied n times.  The animal itself looks
    normal.

    Raises:
        MalformedCase: a chance is not from 0 to 1, or `offspring` no whole number from 0.

    Reference: Mendel's law of segregation; Bayes' rule.
    """
    check_count(offspring, "offspring")
    sheet = _Sheet()
    p = sheet.given("p", prior, "prior", "Chance that the animal carries, before the test")
    c, s = sheet.parent(mate, "mate")
    n = sheet.given("n", offspring, "", "Offspring, all of which look normal")
    half, three_quarters = _ratio(Fraction(1, 2)), _ratio(Fraction(3, 4))
    clean = sheet.derive(
        "L",
        c * three_quarters**n + s * half**n + (1 - c - s),
        "Chance of so many clean offspring if the animal carries",
    )
    return sheet.close("P", p * clean / (p * clean + 1 - p), "Chance that it carries all the same")


def single_copy_offspring(prior: Chance, offspring: int) -> Working:
    """Chance that a parent carries an X- or Z-linked allele after clean single-copy offspring.

    A carrier with two such chromosomes passes the allele on to half of its offspring of the sex
    with one of them (sons in XY, daughters in ZW), which then show:
    P = p(1/2)ⁿ / (p(1/2)ⁿ + 1 − p).

    Raises:
        MalformedCase: `prior` is not from 0 to 1, or `offspring` no whole number from 0.

    Reference: Bayes' rule; see the checks for a published table.
    """
    check_count(offspring, "offspring")
    sheet = _Sheet()
    p = sheet.given("p", prior, "prior", "Chance that the parent carries, before the offspring")
    n = sheet.given("n", offspring, "", "Offspring with one such chromosome, none of which shows")
    clean = sheet.derive(
        "L", _ratio(Fraction(1, 2)) ** n, "Chance of so many clean ones if the parent carries"
    )
    return sheet.close("P", p * clean / (p * clean + 1 - p), "Chance that it carries all the same")


def founder_papers(stated: Chance, reliability: Number, frequency: Number) -> Working:
    """Chance that a founder carries by papers from a source that is right only so often.

    The papers state p; with chance q the source is right, else the animal is like any other of
    the background: P = qp + (1 − q)·2f(1 − f).

    Raises:
        MalformedCase: one of them is not from 0 to 1.

    Reference: law of total probability; Hardy–Weinberg proportions.
    """
    sheet = _Sheet()
    p = sheet.given("p", stated, "stated", "Chance that it carries, as the papers state")
    q = sheet.given("q", reliability, "reliability", "Chance that the source is right")
    f = sheet.given("f", frequency, "frequency", "Frequency of the allele in the background")
    other = sheet.derive("b", 2 * f * (1 - f), "Chance that any other animal carries")
    return sheet.close("P", q * p + (1 - q) * other, "Chance that the founder carries")


def clean_test(prior: Chance, detection: Number, false_alarm: Number = 0) -> Working:
    """Chance that an animal that looks normal carries though a test found nothing.

    P = p(1 − d) / (p(1 − d) + (1 − p)(1 − a)) with detection d, the share of carriers that the
    test finds, and false alarms a, the share of others that it reports.

    Raises:
        MalformedCase: one of them is not from 0 to 1.
        ImpossibleEvidence: the test is sure to report such an animal.

    Reference: Bayes' rule.
    """
    sheet = _Sheet()
    p = sheet.given("p", prior, "prior", "Chance that the animal carries, before the test")
    d = sheet.given("d", detection, "detection", "Share of carriers that the test finds")
    a = sheet.unless_zero(
        "a", false_alarm, "false_alarm", "Share of others that the test reports by mistake"
    )
    missed = sheet.derive("M", p * (1 - d), "Chance of a carrier that the test misses")
    free = sheet.derive("F", (1 - p) * (1 - a), "Chance of no carrier and a clean test")
    if not sheet.value(missed + free):
        raise ImpossibleEvidence("the test cannot have come back clean")
    return sheet.close("P", missed / (missed + free), "Chance that it carries all the same")


def exact(number: Number) -> Fraction:
    """The number as a fraction; a float as the decimal that it prints as.

    >>> exact(0.9)
    Fraction(9, 10)
    """
    return Fraction(repr(number)) if isinstance(number, float) else Fraction(number)


def _ratio(number: Fraction) -> Any:
    import sympy

    return sympy.Rational(number.numerator, number.denominator)


class _Sheet:
    """A working as it is written: symbols with their values and definitions, and the steps.

    SymPy has no types to offer; its expressions are `Any` here and nowhere outside.
    """

    def __init__(self) -> None:
        self.values: dict[Any, Any] = {}
        self.definitions: dict[Any, Any] = {}
        self.steps: list[Step] = []

    def given(self, name: str, chance: Chance, place: str, text: str) -> Any:
        """A symbol for a number that is given; `place` "" for a number checked before."""
        import sympy

        if isinstance(chance, Working):
            self.steps += chance.steps
            chance = chance.result
        elif place:
            check_between(chance, place)
        symbol = sympy.Symbol(name)
        self.values[symbol] = _ratio(exact(chance))
        self._write(text, symbol, [self.values[symbol]])
        return symbol

    def unless_zero(self, name: str, chance: Chance, place: str, text: str) -> Any:
        """As `given`; a plain 0 stays out of the formula."""
        if not isinstance(chance, Working) and chance == 0 and not isinstance(chance, bool):
            return _ratio(Fraction(0))
        return self.given(name, chance, place, text)

    def parent(self, parent: Parent, who: str) -> tuple[Any, Any]:
        """Symbols for a parent's chances of one and of two copies."""
        c = self.given(
            f"c_{who}", parent.carrier, f"{who}.carrier", f"Chance that the {who} has one copy"
        )
        s = self.unless_zero(
            f"s_{who}", parent.shows, f"{who}.shows", f"Chance that the {who} has two copies"
        )
        if self.value(c + s) > 1:
            refuse(who, f"chances sum to {self.value(c + s)}; expected at most 1")
        return c, s

    def passed(self, parent: Parent, who: str) -> Any:
        """A symbol for the chance that a parent passes the allele on."""
        c, s = self.parent(parent, who)
        return self.derive(f"g_{who}", c / 2 + s, f"Chance that the {who} passes the allele on")

    def derive(self, name: str, formula: Any, text: str) -> Any:
        """A symbol for a figure that follows from earlier ones."""
        import sympy

        symbol = sympy.Symbol(name)
        self._write(text, symbol, self._chain(formula))
        self.definitions[symbol] = self._in_givens(formula)
        self.values[symbol] = _ratio(self.value(formula))
        return symbol

    def close(self, name: str, formula: Any, text: str) -> Working:
        """The finished working, the last figure in terms of what is given."""
        symbol = self.derive(name, formula, text)
        whole = self.definitions[symbol]
        return Working(
            self.value(symbol),
            _plain(whole, {}),
            tuple(self.steps),
            self._mathml(symbol, self._chain(whole)),
        )

    def value(self, formula: Any) -> Fraction:
        """A formula with the numbers put in."""
        import sympy

        number = sympy.Rational(sympy.sympify(formula).subs(self.values))
        return Fraction(int(number.p), int(number.q))

    def _in_givens(self, formula: Any) -> Any:
        return formula.subs(self.definitions)

    def _chain(self, formula: Any) -> list[Any]:
        """Formula and value, between which the numbers are put in."""
        return [formula, _ratio(self.value(formula))]

    def _sides(self, chain: list[Any], write: Any) -> list[str]:
        """Each side of the equation once, the numbers put in where there are symbols."""
        first, last = write(chain[0], {}), write(chain[-1], {})
        filled = write(chain[0], {symbol.name: v for symbol, v in self.values.items()})
        return list(dict.fromkeys((first, filled, last)))

    def _write(self, text: str, symbol: Any, chain: list[Any]) -> None:
        plain = " = ".join([symbol.name, *self._sides(chain, _plain)])
        self.steps.append(Step(text, plain, self._mathml(symbol, chain)))

    def _mathml(self, symbol: Any, chain: list[Any]) -> str:
        sides = [_presented(symbol, {}), *self._sides(chain, _presented)]
        return (
            f'<math xmlns="{MATHML}" display="block"><mrow>'
            + "<mo>=</mo>".join(sides)
            + "</mrow></math>"
        )


def _plain(formula: Any, numbers: dict[str, Any]) -> str:
    """A formula as plain text, with numbers in the place of symbols that have some."""
    printer = _printers()[0]({"order": "none"})
    printer.numbers = numbers
    text: str = printer.doprint(formula)
    return text.replace("**", "^").replace("*", " × ")


def _presented(formula: Any, numbers: dict[str, Any]) -> str:
    """A formula in presentation MathML, with numbers in the place of symbols that have some."""
    printer = _printers()[1]({"mul_symbol": "times", "order": "none"})
    printer.numbers = numbers
    markup: str = printer._print(formula).toxml()
    return markup


@lru_cache(maxsize=1)
def _printers() -> tuple[Any, Any]:
    """SymPy's printers of text and of MathML, made to print numbers for symbols.

    Numbers are put in while printing, for SymPy would work them out at once.
    """
    import sympy
    from sympy.printing.mathml import MathMLPresentationPrinter
    from sympy.printing.str import StrPrinter

    class Text(StrPrinter):  # type: ignore[misc]
        numbers: dict[str, Any]

        def _print_Symbol(self, expr: Any) -> Any:
            number = self.numbers.get(expr.name)
            if number is None:
                return super()._print_Symbol(expr)
            return str(number) if number.is_Integer else f"({number})"

    class Markup(MathMLPresentationPrinter):  # type: ignore[misc]
        numbers: dict[str, Any]

        def _print_Symbol(self, sym: Any, style: str = "plain") -> Any:
            number = self.numbers.get(sym.name)
            if number is None:
                return super()._print_Symbol(sym, style=style)
            return self._print(number)

        def _print_Pow(self, e: Any) -> Any:
            number = self.numbers.get(e.base.name) if e.base.is_Symbol else None
            if number is None or number.is_Integer:
                return super()._print_Pow(e)
            # A fraction needs brackets before its exponent, which a symbol does not.
            return super()._print_Pow(sympy.Pow(number, e.exp, evaluate=False))

    return Text, Markup
